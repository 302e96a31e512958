"""Makes the tables of traced rooms: ``python -m tests.plan.make_rooms``, some minutes on one core.

Rooms are drawn from a fixed seed. Of the first table: sizes, reflectances, lamps of several kinds anywhere in
them, furniture and boards. Of the second: one kind of setup after the other that a small set knows and chance
does not draw (``SETUPS``). For each lamp the tables hold the traced light at the face, straight and by way of
the room, on a small area that faces the camera and on one that faces the lamp, and the standard error.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from tests.plan.path_tracer import Scene, trace

ROOMS, SEED, PATHS = 20, 20, 200_000
KINDS = (
    {"size": [0.3, 0.3], "beam": 110.0, "lumens": 2600.0},
    {"size": [0.6, 0.3], "beam": 120.0, "lumens": 4200.0},
    {"size": [1.0, 0.04], "beam": 120.0, "lumens": 1500.0},
    {"size": [0.08, 0.08], "beam": 25.0, "lumens": 2500.0},
    {"size": [0.06, 0.06], "beam": 360.0, "lumens": 800.0},
    {"size": [0.9, 0.9], "beam": 120.0, "lumens": 3000.0},
    {"size": [0.12, 0.12], "beam": 55.0, "lumens": 1500.0},
)


def draw_room(draw: np.random.Generator) -> dict[str, Any]:
    """One room in the tracer's terms."""
    size = [draw.uniform(2.6, 6.0), draw.uniform(2.6, 6.0), draw.uniform(2.3, 3.2)]
    walls = draw.choice([0.06, 0.1, 0.25, 0.4, 0.6, 0.8])
    rho = [*(float(np.clip(walls * draw.uniform(0.8, 1.2), 0.03, 0.88)) for _ in range(4)),
           draw.uniform(0.08, 0.45), draw.choice([0.1, 0.5, 0.8, 0.85])]  # fmt: skip
    face = [draw.uniform(0.3, 0.7) * size[0], draw.uniform(0.45, 0.75) * size[1], draw.uniform(1.1, 1.7)]
    camera = [draw.uniform(0.2, 0.8) * size[0], 0.3, 1.4]
    lamps = []
    for kind in draw.choice(len(KINDS), 5, replace=False):
        at = [draw.uniform(0.15, size[k] - 0.15) for k in range(3)]
        while np.linalg.norm(np.array(at) - face) < 0.6:
            at = [draw.uniform(0.15, size[k] - 0.15) for k in range(3)]
        way = np.array(face) - at
        aim = float(np.degrees(np.arctan2(way[0], way[1]))) % 360.0
        tilt = float(np.degrees(np.arctan2(way[2], np.hypot(way[0], way[1]))))
        sort = draw.choice(4)
        if sort == 0:  # at the ceiling
            tilt = float(draw.uniform(50.0, 88.0))
        elif sort == 1:  # past the face
            aim = (aim + draw.uniform(-60.0, 60.0)) % 360.0
        lamps.append({"at": at, "aim": aim, "tilt": tilt, **KINDS[kind]})
    scene: dict[str, Any] = {"size": size, "rho": rho, "face": face, "camera": camera, "lamps": lamps}
    if draw.random() < 0.6:
        scene["boxes"] = [box for _ in range(draw.integers(1, 3)) if (box := _box(draw, size, face, lamps))]
    if draw.random() < 0.5:
        side = draw.choice([-1.0, 1.0])
        at = [float(np.clip(face[0] + side * draw.uniform(0.5, 0.9), 0.1, size[0] - 0.1)), face[1], 1.3]
        scene["boards"] = [
            {
                "at": at,
                "aim": 90.0 if side < 0 else 270.0,
                "size": [1.0, 1.4],
                "rho": float(draw.choice([0.04, 0.8])),
            }
        ]
    return rounded(scene)


def _box(
    draw: np.random.Generator, size: list[float], face: list[float], lamps: Any
) -> dict[str, Any] | None:
    """Furniture on the floor that holds neither the face nor a lamp."""
    half = [draw.uniform(0.2, 0.7), draw.uniform(0.2, 0.5)]
    top = draw.uniform(0.4, 1.1)
    middle = [draw.uniform(h + 0.05, size[k] - h - 0.05) for k, h in enumerate(half)]
    low, high = (
        [middle[0] - half[0], middle[1] - half[1], 0.0],
        [middle[0] + half[0], middle[1] + half[1], top],
    )
    for place in (face, *(lamp["at"] for lamp in lamps)):
        if all(low[k] - 0.5 < place[k] < high[k] + 0.5 for k in range(3)):
            return None
    return {"low": low, "high": high, "rho": float(draw.uniform(0.1, 0.6))}


# ── Setups ──────────────────────────────────────────────────────────────────────────────────────────


def at_face(at: list[float], face: list[float], past: float = 0.0, down: float = 0.0) -> dict[str, Any]:
    """Place, aim and tilt of a lamp at the face, turned ``past`` and ``down`` it by so many degrees."""
    way = np.array(face) - at
    aim = float(np.degrees(np.arctan2(way[0], way[1]))) + past
    tilt = float(np.degrees(np.arctan2(way[2], np.hypot(way[0], way[1])))) - down
    return {"at": at, "aim": aim % 360.0, "tilt": float(np.clip(tilt, -89.0, 89.0))}


SETUPS = (
    "softbox near", "card", "blocked", "dark floor, white ceiling", "lamp near a wall", "tilted", "narrow",
    "window", "subject near a wall", "camera from the side",
)  # fmt: skip


def draw_setup(draw: np.random.Generator, setup: str) -> dict[str, Any]:
    """One room with a setup of this name: a key about the face, a bulb, an edge, and what the name says."""
    size = [draw.uniform(2.4, 5.0), draw.uniform(2.8, 5.5), draw.uniform(2.2, 3.0)]
    walls = float(draw.choice([0.05, 0.2, 0.5, 0.75]))
    rho = [*(float(np.clip(walls * draw.uniform(0.7, 1.3), 0.03, 0.88)) for _ in range(4)),
           draw.uniform(0.05, 0.4), draw.uniform(0.4, 0.85)]  # fmt: skip
    face = [draw.uniform(0.35, 0.65) * size[0], draw.uniform(0.4, 0.6) * size[1], draw.uniform(1.1, 1.7)]
    camera = [draw.uniform(0.3, 0.7) * size[0], 0.3, draw.uniform(0.9, 1.6)]
    if setup == "subject near a wall":
        face[int(draw.integers(2))] = draw.uniform(0.12, 0.35)
        camera = [size[0] / 2, size[1] - 0.4, 1.4]
    if setup == "camera from the side":
        camera = [0.25, face[1] + draw.uniform(-0.5, 0.5), 1.3]
    if setup == "dark floor, white ceiling":
        rho[4:] = [0.03, 0.9]
    side = float(draw.choice([-1.0, 1.0]))

    def about(degrees: float, away: float, up: float) -> list[float]:
        turn = np.radians(degrees)
        place = [face[0] + side * away * np.sin(turn), face[1] - away * np.cos(turn), up]
        return [float(np.clip(p, 0.12, size[k] - 0.12)) for k, p in enumerate(place)]

    bulb, panel, tube, spot, soft, frame, small = (
        KINDS[4],
        KINDS[0],
        KINDS[2],
        KINDS[3],
        KINDS[5],
        KINDS[1],
        KINDS[6],
    )
    key = about(45.0, draw.uniform(0.9, 1.4), draw.uniform(1.6, 2.0))
    lamps = [
        {**at_face(key, face), **panel},
        {**at_face(about(150.0, 1.2, 2.0), face), **small},
        {**at_face(about(-100.0, 1.5, 0.7), face), **bulb},
    ]
    scene: dict[str, Any] = {"setup": setup, "size": size, "rho": rho, "face": face, "camera": camera}
    if setup == "softbox near":
        lamps[0] = {**at_face(about(40.0, draw.uniform(0.45, 0.7), face[2] + 0.2), face), **soft}
        lamps.append(
            {
                **at_face(about(-30.0, 0.8, face[2] - 0.3), face),
                "size": [1.2, 0.3],
                "beam": 120.0,
                "lumens": 900.0,
            }
        )
    if setup == "card":
        board = about(-70.0, draw.uniform(0.5, 0.8), 1.3)
        aim = at_face(board, face)["aim"]
        scene["boards"] = [{"at": board, "aim": aim, "size": [1.0, 1.0], "rho": 0.85}]
        lamps.append({**at_face(about(20.0, 0.9, 1.5), board), **spot})
    if setup == "blocked":
        low = about(45.0, 0.5, 0.0)
        scene["boards"] = [{"at": [*low[:2], face[2] + 0.15], "aim": at_face(low, face)["aim"],
                            "size": [0.4, 0.5], "rho": 0.04}]  # fmt: skip
        middle = [(face[k] + lamps[2]["at"][k]) / 2 for k in range(2)]
        scene["boxes"] = [{"low": [middle[0] - 0.15, middle[1] - 0.25, 0.0],
                           "high": [middle[0] + 0.15, middle[1] + 0.25, 1.2], "rho": 0.3}]  # fmt: skip
    if setup == "lamp near a wall":
        wall = 0.13 if side < 0 else size[0] - 0.13
        lamps += [{"at": [wall, face[1] + 0.3, 1.4], "aim": 0.0, "tilt": 0.0, **bulb},
                  {**at_face([wall, face[1] - 0.8, 1.6], face, past=120.0), **panel}]  # fmt: skip
    if setup == "tilted":
        lamps += [{"at": about(10.0, 0.6, size[2] - 0.15), "aim": 0.0, "tilt": -90.0, **frame},
                  {**at_face(about(-30.0, 1.1, 0.3), face, down=-70.0), **panel},
                  {**at_face(about(80.0, 0.9, 1.2), face, down=50.0), **tube}]  # fmt: skip
    if setup == "narrow":
        lamps += [{**at_face(about(30.0, 1.6, 2.0), face, past=4.0), **spot, "beam": 12.0},
                  {**at_face(about(-50.0, 1.4, 1.9), face, past=20.0), **spot, "beam": 18.0},
                  {**at_face(about(-160.0, 1.3, 2.1), face, down=60.0), **spot}]  # fmt: skip
    if setup == "window":
        wide, tall = draw.uniform(0.8, 1.4), draw.uniform(0.9, 1.3)
        x = 0.03 if side < 0 else size[0] - 0.03
        scene["boards"] = [{"at": [x, face[1], 1.4], "aim": 90.0 if side < 0 else 270.0,
                            "size": [wide, tall], "rho": 0.1}]  # fmt: skip
        lamps.append({"at": [x - side * 0.1, face[1], 1.4], "aim": 90.0 if side < 0 else 270.0, "tilt": 0.0,
                      "size": [wide, tall], "beam": 120.0, "lumens": 5000.0})  # fmt: skip
    return rounded({**scene, "lamps": lamps})


def rounded(value: Any) -> Any:
    """The same with floats to the millimetre, so that table and scene are one."""
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [rounded(inner) for inner in value]
    return round(float(value), 3) if isinstance(value, float | np.floating) else value


def reference(scene: Scene, paths: int, seed: int) -> list[dict[str, float]]:
    """The traced light of each lamp at the face."""
    face, camera = np.array(scene["face"]), np.array(scene["camera"])
    flat = (camera - face) / np.linalg.norm(camera - face)
    direct, bounced, error = trace(scene, face, flat, paths, seed)
    rows = []
    for k, lamp in enumerate(scene["lamps"]):
        way = np.array(lamp["at"]) - face
        alone = {**scene, "lamps": [lamp]}
        d, b, e = trace(alone, face, way / np.linalg.norm(way), paths // 2, seed + 1 + k)
        figures = {
            "camera_direct": direct[k], "camera_bounced": bounced[k], "camera_error": error[k],
            "lamp_direct": d[0], "lamp_bounced": b[0], "lamp_error": e[0],
        }  # fmt: skip
        rows.append({name: float(f"{value:.4g}") for name, value in figures.items()})
    return rows


def write(name: str, scenes: list[dict[str, Any]]) -> None:
    """Traces the rooms and writes their table."""
    table = []
    for number, scene in enumerate(scenes):
        table.append({"scene": scene, "lux": reference(scene, PATHS, 100 * number)})
        print(name, number, flush=True)
    lines = ",\n".join(json.dumps(row) for row in table)
    Path(__file__).with_name(name).write_text(f"[\n{lines}\n]\n", encoding="utf-8")


def main() -> None:
    draw = np.random.default_rng(SEED)
    write("rooms.json", [draw_room(draw) for _ in range(ROOMS)])
    draw = np.random.default_rng(SEED + 1)
    write("setups.json", [draw_setup(draw, setup) for setup in SETUPS for _ in range(ROOMS // len(SETUPS))])


if __name__ == "__main__":
    main()
