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


SOURCES = {
    "listening": True,
    "note": "",
    "sources": [
        {"name": "onecrew The Night Baker", "address": "127.0.0.1", "universe": 1, "priority": 100,
         "ours": True, "protocol": "sacn"},
        {"name": "house", "address": "192.0.2.9", "universe": 1, "priority": 120, "ours": False,
         "protocol": "sacn"},
    ],
}  # fmt: skip

T0 = 1_700_000_000.0
LOG_LINES = [
    (1, T0, "engine", "started, resumed cue 2"),
    (2, T0 + 4, "cue", "2 Before four, fade 3.0 s"),
    (3, T0 + 9, "take", "take 1 of setup A starts under cue 2"),
    (4, T0 + 61, "take", "take 1 of setup A ends, good"),
    (5, T0 + 70, "note", "take 1: the door was late"),
    (6, T0 + 90, "light", "hood 22 % 3400 K"),
]


def log(after: int = 0, limit: int = 500) -> dict[str, Any]:
    keys = ("n", "at", "kind", "text")
    lines = [dict(zip(keys, line, strict=True)) for line in LOG_LINES if line[0] > after]
    return {"lines": lines[-limit:], "last": LOG_LINES[-1][0]}


def planck(cct_k: float) -> list[float]:
    """Krystek's rational approximation (1985) in CIE 1960 uv, v′ = 1.5 v: good enough to draw by."""
    t = cct_k
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (
        1 + 8.42420235e-4 * t + 7.08145163e-7 * t * t
    )
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (
        1 - 2.89741816e-5 * t + 1.61456053e-7 * t * t
    )
    return [t, u, 1.5 * v]


LOCUS = {
    "planck": [planck(1e6 / mired) for mired in range(60, 1000, 15)],
    "daylight": [[5000, 0.2092, 0.4881], [5500, 0.2044, 0.4808], [6500, 0.1978, 0.4683],
                 [7500, 0.1935, 0.4585]],
    "spectrum": [[380, 0.2569, 0.0165], [450, 0.2161, 0.0550], [480, 0.0828, 0.1709], [500, 0.0035, 0.3813],
                 [520, 0.0231, 0.5385], [560, 0.1547, 0.5798], [580, 0.2623, 0.5602], [600, 0.4035, 0.5393],
                 [620, 0.5203, 0.5202], [680, 0.6222, 0.5066]],
}  # fmt: skip


def gamut(fixture: str) -> dict[str, Any]:
    """A triangle for the oven, a line of whites for the others."""
    if fixture == "oven":
        return {"uv": [[0.5, 0.52], [0.08, 0.56], [0.17, 0.12]], "white": None}
    return {"uv": [planck(2700)[1:], planck(6500)[1:]], "white": [2700, 6500]}


def _take(id: int, number: int, clock: str, **more: Any) -> dict[str, Any]:
    return {"id": id, "setup": "A", "number": number, "day": "2026-01-05", "clock": clock, "length_s": None,
            "cue": "no cue", "clip": "", "good": None, "notes": [], "cut_short": False, **more}  # fmt: skip


TAKES = {
    "takes": [
        _take(40, 1, "14:02:11", length_s=52.1, cue="cue 2 Before four", clip="A003C012", good=True,
              notes=["the door was late, use the start"]),
        _take(44, 2, "14:09:30", cut_short=True),
    ]
}  # fmt: skip

ANSWERS: dict[str, Any] = {
    "profiles": PROFILES,
    "sources": SOURCES,
    "log": log,
    "locus": LOCUS,
    "gamut": gamut,
    "takes": TAKES,
}
