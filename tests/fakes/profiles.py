"""Profiles with the corners that the shipped ones do not have, and small helpers to rig and light them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from onecrew.colour.spaces import xy_to_uv76
from onecrew.playback.lights import Frame
from onecrew.shipped import shipped
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture

RGB = {"red": (0.64, 0.33), "green": (0.30, 0.60), "blue": (0.15, 0.06)}
"""Primaries of ITU-R BT.709."""
BT709_LIGHT = {"red": 0.212639, "green": 0.715169, "blue": 0.072192}
"""Their shares of the light of D65: 0.2126, 0.7152, 0.0722 in ITU-R BT.709, here to six digits (numpy)."""

_ODD: dict[str, dict[str, Any]] = {
    "rgb": {
        "name": "The three primaries of BT.709",
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [
            {"name": "8-bit", "channels": [{"emitter": name} for name in RGB]},
            {"name": "16-bit", "channels": [{"emitter": name, "bits": 16} for name in RGB]},
            {"name": "dimmed", "channels": [{"dimmer": True}, *({"emitter": name} for name in RGB)]},
        ],
    },
    "square-mixed": {
        "name": "No dimmer, square law, channels of different widths around a fixed value",
        "dimming": "square",
        "emitters": {"warm": {"xy": (0.4598, 0.4106), "flux": 900},
                     "cool": {"xy": (0.3132, 0.3252), "flux": 1100},
                     "green": {"xy": (0.1909, 0.7284), "flux": 300}},
        "modes": [{"name": "odd", "channels": [{"emitter": "cool", "bits": 16}, {"fixed": 77},
                                               {"emitter": "green"}, {"emitter": "warm", "bits": 16}]}],
    },
    "log-rgb": {
        "name": "No dimmer, log law",
        "dimming": "log",
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [{"name": "16-bit", "channels": [{"emitter": name, "bits": 16} for name in RGB]}],
    },
    "table-segments": {
        "name": "Three segments with a dimmer each, a law by table",
        "dimming": "table",
        "dimming_table": [(0, 0), (0.1, 0.004), (0.5, 0.2), (1, 1)],
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [{"name": "3-segment", "segments": 3,
                   "channels": [{"fixed": 5}, *({"emitter": name, "bits": 16} for name in RGB),
                                {"dimmer": True, "bits": 16}]}],
    },
    "cct-table": {
        "name": "CCT by a table, tint from green to magenta and off centre, square law",
        "dimming": "square",
        "emitters": {"light": {"xy": (0.38, 0.38)}},
        "modes": [{"name": "16-bit", "channels": [
            {"cct": {"table": [(0, 2000), (0.25, 3200), (0.75, 5600), (1, 10000)]}, "bits": 16},
            {"tint": {"low_duv": 0.03, "high_duv": -0.02, "neutral": 0.6}, "bits": 16},
            {"fixed": 9}, {"dimmer": True, "bits": 16}]}],
    },
    "cool-first": {
        "name": "CCT that begins at its cool end, by a range and by a table",
        "emitters": {"light": {"xy": (0.38, 0.38)}},
        "modes": [
            {"name": "range", "channels": [{"dimmer": True}, {"cct": {"low_k": 6500, "high_k": 2700}}]},
            {"name": "table", "channels": [{"dimmer": True, "bits": 16}, {"bits": 16,
                "cct": {"table": [(0, 10000), (0.25, 5600), (0.75, 3200), (1, 2000)]}}]}],
    },
    "four-whites": {
        "name": "Four whites in one line: more emitters than colours",
        "emitters": {"warm": {"xy": (0.46, 0.41), "flux": 10}, "mid": {"xy": (0.40, 0.38), "flux": 7},
                     "cool": {"xy": (0.34, 0.35), "flux": 12}, "sky": {"xy": (0.31, 0.335), "flux": 5}},
        "modes": [{"name": "16-bit",
                   "channels": [{"emitter": name, "bits": 16} for name in ("warm", "mid", "cool", "sky")]}],
    },
    "hsi": {
        "name": "Hue and saturation under a dimmer, the hue from -60 to 300, saturation falling",
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [
            {"name": "8-bit", "channels": [{"dimmer": True}, {"hue": {}}, {"saturation": {}}]},
            {"name": "16-bit", "channels": [
                {"dimmer": True, "bits": 16}, {"hue": {"low_deg": -60, "high_deg": 300}, "bits": 16},
                {"saturation": {"low": 1, "high": 0}, "bits": 16}]},
        ],
    },
    "hsi-cct": {
        "name": "Hue and saturation around a white by CCT and tint",
        "emitters": {**{name: {"xy": xy, "flux": 300 * BT709_LIGHT[name]} for name, xy in RGB.items()},
                     "warm": {"xy": (0.4598, 0.4106), "flux": 900},
                     "cool": {"xy": (0.3132, 0.3252), "flux": 1000}},
        "modes": [{"name": "16-bit", "channels": [
            {"dimmer": True, "bits": 16}, {"cct": {"low_k": 2700, "high_k": 6500}, "bits": 16},
            {"tint": {"low_duv": -0.02, "high_duv": 0.02}, "bits": 16},
            {"hue": {}, "bits": 16}, {"saturation": {}, "bits": 16}]}],
    },
    "xy": {
        "name": "CIE x and y, of known emitters and over a part of the channels",
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [{"name": "16-bit", "channels": [
            {"x": {"high": 0.8}, "bits": 16}, {"y": {"high": 0.9}, "bits": 16},
            {"dimmer": True, "bits": 16}]},
            {"name": "part", "channels": [
            {"x": {"low": 0.1, "high": 0.7}, "lowest": 1000, "highest": 60000, "slots": [5, 1]},
            {"y": {"low": 0.7, "high": 0.05}, "slots": [2, 7]}, {"fixed": 3, "slots": [9]},
            {"dimmer": True, "slots": [6, 3]}]}],
    },
    "cmy": {
        "name": "Three filters before one white, and four, of which one falls and one has a range",
        "emitters": {"white": {"xy": (0.3127, 0.3290)}},
        "filters": {"cyan": {"xy": (0.2247, 0.3287), "passes": 0.787},
                    "magenta": {"xy": (0.3209, 0.1542), "passes": 0.285},
                    "yellow": {"xy": (0.4193, 0.5053), "passes": 0.928},
                    "straw": {"xy": (0.4500, 0.4100), "passes": 0.6}},
        "modes": [
            {"name": "8-bit", "channels": [{"dimmer": True}, *({"filter": name} for name in
                                                               ("cyan", "magenta", "yellow"))]},
            {"name": "16-bit", "channels": [
                {"filter": "straw", "bits": 16}, {"filter": "cyan", "bits": 16},
                {"filter": "yellow", "bits": 16, "inverted": True}, {"dimmer": True, "bits": 16},
                {"filter": "magenta", "bits": 16, "lowest": 1000, "highest": 60000}]}],
    },
    "two-parts": {
        "name": "A white part and emitters, by a crossfade, by one that falls, and by two dimmers",
        "emitters": {**{name: {"xy": xy, "flux": 300 * BT709_LIGHT[name]} for name, xy in RGB.items()},
                     "warm": {"xy": (0.4598, 0.4106), "flux": 400},
                     "cool": {"xy": (0.3132, 0.3252), "flux": 500}},
        "modes": [
            {"name": "16-bit", "channels": [
                {"dimmer": True, "bits": 16}, {"cct": {"low_k": 2700, "high_k": 6500}, "bits": 16, "idle": 9},
                {"tint": {"low_duv": -0.01, "high_duv": 0.01}, "bits": 16}, {"crossfade": {}, "bits": 16},
                *({"emitter": name, "bits": 16} for name in RGB)]},
            {"name": "falling", "channels": [
                {"dimmer": True, "bits": 16}, {"cct": {"low_k": 6500, "high_k": 2700}, "bits": 16},
                {"crossfade": {"white": 0.9, "colour": 0.1}, "bits": 16},
                {"hue": {}, "bits": 16}, {"saturation": {}, "bits": 16}]},
            {"name": "dimmers", "channels": [
                {"dimmer": True, "part": "white", "bits": 16}, {"dimmer": True, "part": "colour", "bits": 16},
                {"cct": {"low_k": 2700, "high_k": 6500}, "bits": 16},
                *({"emitter": name, "bits": 16} for name in (*RGB, "warm"))]},
            {"name": "three-dimmers", "channels": [
                {"dimmer": True, "bits": 24}, {"dimmer": True},
                {"dimmer": True, "part": "white", "bits": 16}, {"dimmer": True, "part": "colour", "bits": 16},
                {"cct": {"low_k": 2700, "high_k": 6500}, "bits": 16},
                {"x": {}, "bits": 16}, {"y": {}, "bits": 16}]},
        ],
    },
    "scattered": {
        "name": "24 bits, fine bytes apart and before the coarse one, segments, a part of a range",
        "emitters": {name: {"xy": xy, "flux": BT709_LIGHT[name]} for name, xy in RGB.items()},
        "modes": [
            {"name": "24-bit", "channels": [
                {"dimmer": True, "slots": [9, 2, 4]}, {"emitter": "green", "slots": [1, 3]},
                {"emitter": "red", "slots": [6, 5], "lowest": 2000, "highest": 50000},
                {"emitter": "blue", "slots": [8, 7]}, {"fixed": 257, "slots": [12, 11]}]},
            {"name": "places", "channels": [
                {"dimmer": True, "bits": 16, "places": [[1, 2]]},
                {"emitter": "red", "bits": 16, "places": [[3, 9], [4, 10], [20, 21]]},
                {"emitter": "green", "bits": 16, "places": [[5, 11], [6, 12], [22, 23]]},
                {"emitter": "blue", "bits": 16, "places": [[7, 13], [8, 14], [24, 25]]}]},
            {"name": "once", "segments": 4, "channels": [
                {"dimmer": True, "bits": 16, "once": True}, *({"emitter": name, "bits": 16} for name in RGB),
                {"fixed": 7, "once": True}]},
        ],
    },
    "in-steps": {
        "name": "CCT and tint in equal steps",
        "emitters": {"light": {"xy": (0.38, 0.38)}},
        "modes": [{"name": "8-bit", "channels": [
            {"dimmer": True}, {"cct": {"low_k": 2500, "high_k": 7500, "steps": 51}},
            {"tint": {"low_duv": -0.02, "high_duv": 0.02, "steps": 21}}]}],
    },
    "red-lamp": {
        "name": "A lamp that is no white",
        "emitters": {"red": {"xy": (0.69, 0.308)}},
        "modes": [{"name": "8-bit", "channels": [{"dimmer": True}]}],
    },
}  # fmt: skip


@lru_cache(maxsize=1)
def all_profiles() -> Mapping[str, Profile]:
    """The shipped profiles and the odd ones."""
    odd = {name: Profile.model_validate({"id": name, **data}) for name, data in _ODD.items()}
    return {**load_profiles([shipped("profiles")]), **odd}


def kinds() -> list[tuple[str, str]]:
    """Every (profile, mode) there is."""
    return [(name, mode.name) for name, profile in all_profiles().items() for mode in profile.modes]


def rig(*kinds: tuple[str, str], **more: Any) -> tuple[Fixture, ...]:
    """Fixtures one after the other, as many to a universe as fit."""
    universe, address, fixtures = 1, 1, []
    for number, (profile, mode_name) in enumerate(kinds):
        mode = all_profiles()[profile].mode(mode_name)
        assert mode is not None
        if address + mode.width > 513:
            universe, address = universe + 1, 1
        place = {"universe": universe, "address": address, "role": "key", **more}
        fixtures.append(Fixture(id=f"lamp-{number}", profile=profile, mode=mode_name, **place))
        address += mode.width
    return tuple(fixtures)


def whites(level: Sequence[float], cct_k: Sequence[float], duv: Sequence[float] | float = 0.0) -> Frame:
    """A frame of whites."""
    n = len(level)
    return Frame(
        level=np.array(level, dtype=float),
        white=np.ones(n, dtype=bool),
        mired=1e6 / np.array(cct_k, dtype=float),
        duv=np.broadcast_to(np.array(duv, dtype=float), (n,)).copy(),
        u=np.full(n, 0.2),
        v=np.full(n, 0.48),
    )


def colours(level: Sequence[float], xy: Sequence[tuple[float, float]]) -> Frame:
    """A frame of colours told by xy."""
    n = len(level)
    u, v = xy_to_uv76(np.array(xy, dtype=float)).T
    still = np.zeros(n)
    return Frame(np.array(level, dtype=float), still.astype(bool), still + 200.0, still, u.copy(), v.copy())
