"""The traced rooms as documents, and what the forecast makes of them."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from onecrew.plan.lamp import Lamp
from onecrew.plan.stage import Stage, stage_of
from onecrew.show.photometry import Photometry, Room
from onecrew.show.show import Camera, Fixture, Modifier, Place, SetPiece

TABLES = ("rooms.json", "setups.json")


def rooms(table: str = TABLES[0]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(Path(__file__).with_name(table).read_text(encoding="utf-8"))
    return found


def lamp(number: int, told: dict[str, Any], softbox: bool = False) -> Lamp:
    """A traced lamp; as a softbox, a small lamp of twice the flux behind a face that takes half."""
    x, y, z = told["at"]
    place = Place(x_m=x, y_m=y, height_m=z, aim_deg=told["aim"], tilt_deg=told["tilt"])
    fixture = Fixture(
        id=f"lamp{number}", profile="p", mode="m", universe=1, address=1, role="key", place=place
    )
    width, height = told["size"]
    gives = Photometry(lumens=told["lumens"], beam_deg=told["beam"], width_m=width, height_m=height)
    if softbox:
        box = Modifier(kind="softbox", stops=1.0, width_m=width, height_m=height)
        gives = Photometry(lumens=2 * told["lumens"], beam_deg=60.0, width_m=0.1, height_m=0.1)
        fixture = fixture.model_copy(update={"modifiers": (box,)})
    return Lamp(fixture, 1.0, gives, True)


def documents(scene: dict[str, Any]) -> tuple[list[Lamp], list[SetPiece], Camera, Room]:
    """What a person would have written down of a traced room."""
    left, right, bottom, top, floor, ceiling = scene["rho"]
    width, depth, height = scene["size"]
    room = Room(
        width_m=width, depth_m=depth, height_m=height, floor=floor, ceiling=ceiling,
        left=left, right=right, bottom=bottom, top=top,
    )  # fmt: skip
    face = Place(x_m=scene["face"][0], y_m=scene["face"][1], height_m=scene["face"][2])
    pieces = [SetPiece(id="actor", kind="subject", place=face)]
    for number, box in enumerate(scene.get("boxes", ())):
        (x0, y0, _), (x1, y1, z1) = box["low"], box["high"]
        place = Place(x_m=(x0 + x1) / 2, y_m=(y0 + y1) / 2, height_m=z1, aim_deg=0.0)
        pieces.append(
            SetPiece(
                id=f"table{number}", kind="table", place=place, width_m=x1 - x0, depth_m=y1 - y0,
                reflectance=box["rho"],
            )
        )  # fmt: skip
    for number, board in enumerate(scene.get("boards", ())):
        x, y, z = board["at"]
        place = Place(x_m=x, y_m=y, height_m=z, aim_deg=board["aim"])
        kind = "negative fill" if board["rho"] < 0.3 else "reflector"
        kind = "window" if scene.get("setup") == "window" else kind
        pieces.append(
            SetPiece(
                id=f"board{number}", kind=kind, place=place, width_m=board["size"][0],
                height_m=board["size"][1], reflectance=board["rho"],
            )
        )  # fmt: skip
    x, y, z = scene["camera"]
    return (
        [
            lamp(k, told, k == 0 and "softbox" in scene.get("setup", ""))
            for k, told in enumerate(scene["lamps"])
        ],
        pieces,
        Camera(place=Place(x_m=x, y_m=y, height_m=z)),
        room,
    )


def stage(scene: dict[str, Any]) -> Stage:
    return stage_of(*documents(scene))


@cache
def errors(table: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(share of the light, stops off facing the camera, stops off facing the lamp) of every traced lamp."""
    found = []
    for row in rooms(table):
        scene, lux = row["scene"], row["lux"]
        there = stage(scene)
        names, face = list(there.sources), np.array(scene["face"])
        toward = np.array(scene["camera"]) - face
        camera = toward / np.linalg.norm(toward)
        total = sum(lamp["camera_direct"] + lamp["camera_bounced"] for lamp in lux)
        for name, traced in zip(names, lux, strict=True):
            way = there.sources[name].at - face
            normals = np.stack([camera, way / np.linalg.norm(way)])
            places = np.stack([face, face])
            read = there.direct(name, places, normals) + there.bounced([name], places, normals)[0]
            reference = [
                traced[f"{facing}_direct"] + traced[f"{facing}_bounced"] for facing in ("camera", "lamp")
            ]
            found.append((reference[0] / total, *np.log2(read / reference)))
    share, camera_off, lamp_off = np.array(found).T
    return share, camera_off, lamp_off
