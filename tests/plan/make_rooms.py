"""Makes the tables of traced rooms: ``python -m tests.plan.make_rooms``, some minutes on one core.

Rooms are drawn from a fixed seed: sizes, reflectances, lamps of several kinds anywhere in them, furniture and
boards. For each lamp the table holds the traced light at the face, straight and by way of the room, on a
small area that faces the camera and on one that faces the lamp, and the standard error.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from tests.plan.path_tracer import Scene, trace

TABLE = Path(__file__).with_name("rooms.json")
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


def main() -> None:
    draw = np.random.default_rng(SEED)
    table = []
    for number in range(ROOMS):
        scene = draw_room(draw)
        table.append({"scene": scene, "lux": reference(scene, PATHS, 100 * number)})
        print(number, flush=True)
    lines = ",\n".join(json.dumps(row) for row in table)
    TABLE.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
