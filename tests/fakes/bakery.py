"""The bakery at four in the morning, as the screens' tests see it: six lamps, six cues, one state."""

from __future__ import annotations

from typing import Any

from onecrew.show.show import Show
from onecrew.show.snapshot import LightState, OutputState, Snapshot

SHOW: dict[str, Any] = {
    "name": "The Night Baker",
    "rig": {
        "fixtures": [
            {"id": "hood", "profile": "panel-cct-tint", "mode": "16-bit", "universe": 1, "address": 1,
             "role": "key", "modifiers": [{"kind": "other", "stops": 1.0, "note": "grease filter"}],
             "place": {"x_m": 0.6, "y_m": 3.4, "height_m": 2.1, "aim_deg": 135}},
            {"id": "lamp", "profile": "bulb-rgbww", "mode": "8-bit", "universe": 1, "address": 11,
             "role": "practical", "place": {"x_m": 2.0, "y_m": 2.2, "height_m": 1.7}},
            {"id": "oven", "profile": "tube-rgbww-8", "mode": "8-bit", "universe": 1, "address": 21,
             "role": "effect", "place": {"x_m": 3.5, "y_m": 1.2, "height_m": 0.6, "aim_deg": 290}},
            {"id": "street", "profile": "panel-bicolour", "mode": "8-bit", "universe": 1, "address": 71,
             "role": "edge", "place": {"x_m": 3.4, "y_m": 3.5, "height_m": 2.0, "aim_deg": 225}},
            {"id": "sky", "profile": "panel-cct-tint", "mode": "16-bit", "universe": 1, "address": 81,
             "role": "ambience", "place": {"x_m": 0.5, "y_m": 0.5, "height_m": 1.2, "aim_deg": 45}},
            {"id": "fridge", "profile": "spot-six", "mode": "16-bit", "universe": 1, "address": 91,
             "role": "background", "place": {"x_m": 1.4, "y_m": 3.9, "height_m": 1.0, "aim_deg": 170}},
        ],
        "set_pieces": [{"id": "sacks", "kind": "furniture", "place": {"x_m": 3.6, "y_m": 2.0}},
                       {"id": "counter", "kind": "subject", "place": {"x_m": 2.0, "y_m": 1.8}}],
    },
    "output": {"sacn": {"universes": {"1": {"to": ["127.0.0.1"]}}}},
    "camera": {"iso": 800, "aperture": 2.8, "white_balance_k": 4700, "lens": "40 mm",
               "place": {"x_m": 2.0, "y_m": 0.3, "height_m": 1.4, "aim_deg": 0}},
    "cues": [
        {"number": "1", "name": "Working light", "shortcut": "1",
         "look": {"sky": {"level": 0.8, "white": {"cct_k": 4300}}}},
        {"number": "2", "name": "Before four", "shortcut": "2", "fade": {"in_s": 3.0, "out_s": 3.0},
         "look": {"hood": {"level": 0.22, "white": {"cct_k": 3400}},
                  "lamp": {"level": 0.035, "white": {"cct_k": 2500}}}},
        {"number": "3", "name": "Ovens on", "shortcut": "3", "fade": {"in_s": 4.0, "out_s": 6.0},
         "look": {"hood": {"level": 0.22, "white": {"cct_k": 3400}},
                  "oven": {"level": 0.4, "white": {"cct_k": 2000}}}},
        {"number": "4", "name": "The baker turns", "shortcut": "4", "auto_follow_s": 6.0,
         "look": {"fridge": {"level": 0.6, "white": {"cct_k": 4000}}}},
        {"number": "5", "name": "Second pass", "shortcut": "5",
         "look": {"hood": {"level": 0.22, "white": {"cct_k": 3400}}}},
        {"number": "6", "name": "Blackout", "shortcut": "x", "look": {}},
    ],
}  # fmt: skip


def light(level: float, cct_k: float | None, xy: tuple[float, float], swatch: str, **more: Any) -> LightState:
    """One lamp's state; its output follows the level."""
    white = {"cct_k": cct_k} if cct_k is not None else None
    fields: dict[str, Any] = {"output": level, "slots": (round(level * 255), 0), "goal_level": level, **more}
    return LightState.model_validate({"level": level, "white": white, "xy": xy, "swatch": swatch, **fields})


def show() -> Show:
    return Show.model_validate(SHOW)


def snapshot(**changes: Any) -> Snapshot:
    """Cue 2 stands, cue 3 comes next, nothing moves."""
    fields: dict[str, Any] = {
        "show": "The Night Baker", "path": "baker.json", "revision": 3,
        "cue": "2", "cue_name": "Before four", "next": "3", "next_name": "Ovens on",
        "fade": None, "held": False, "locked": False, "blackout": False, "master": 1.0,
        "lights": {
            "hood": light(0.22, 3400.0, (0.411, 0.393), "#ffdfb8"),
            "lamp": light(0.035, 2500.0, (0.477, 0.414), "#ffb46b"),
            "oven": light(0.4, None, (0.55, 0.40), "#ff8a30"),
            "street": light(0.08, 6500.0, (0.313, 0.324), "#bfd2ff",
                          notes=("6500 K is above the 5600 K this lamp reaches",)),
            "sky": light(0.05, 3200.0, (0.423, 0.399), "#ffd9a8"),
            "fridge": light(0.0, 4000.0, (0.380, 0.377), "#fff0dc"),
        },
        "outputs": (OutputState(universe=1, to="127.0.0.1", state="ok", sent=1200, errors=0),),
        "engine_pid": 4711, **changes,
    }  # fmt: skip
    return Snapshot.model_validate(fields)
