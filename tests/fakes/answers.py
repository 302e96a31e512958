"""What the fake engine answers to the screens' questions: plausible, small, and computed nowhere else."""

from __future__ import annotations

from typing import Any

PROFILES = {
    "profiles": [
        {"id": "bulb-rgbww", "name": "RGBWW bulb", "note": "Typical figures, invented.",
         "modes": [{"name": "8-bit", "width": 5, "channels": ["red", "green", "blue", "warm", "cold"]}]},
        {"id": "panel-bicolour", "name": "Bicolour panel", "note": "",
         "modes": [{"name": "8-bit", "width": 2, "channels": ["warm", "cold"]}]},
        {"id": "panel-cct-tint", "name": "Panel with CCT and tint", "note": "",
         "modes": [{"name": "8-bit", "width": 3, "channels": ["dimmer", "cct", "tint"]},
                   {"name": "16-bit", "width": 6, "channels": ["dimmer", "cct", "tint"]}]},
        {"id": "spot-six", "name": "Six-emitter spot", "note": "",
         "modes": [{"name": "16-bit", "width": 14, "channels": ["dimmer", "red", "amber", "lime"]}]},
        {"id": "tube-rgbww-8", "name": "RGBWW tube, 8 segments", "note": "",
         "modes": [{"name": "8-bit", "width": 40, "channels": ["red", "green", "blue", "warm", "cold"]}]},
    ]
}  # fmt: skip


def colour(**asked: Any) -> dict[str, Any]:
    return {"xy": [0.5, 0.35], "uv": [0.32, 0.51], "cct_k": None, "duv": None, **asked}


def output(fixture: str, level: float) -> dict[str, Any]:
    """The pendant dims by the square law, every other lamp in a straight line."""
    return {"output": level**2 if fixture == "pendant" else level}


def next_free(universe: int, width: int) -> dict[str, Any]:
    return {"address": {1: 105}.get(universe, 1) if width < 400 else None}


ANSWERS: dict[str, Any] = {
    "profiles": PROFILES,
    "colour": colour,
    "output": output,
    "next-free": next_free,
}
