"""Hue jumps in fades of lamps without a dimmer, 8 bits: the encoder, and the least that whole steps allow.

Of 200 drawn fades of each shipped mode those with the largest jumps are searched exhaustively. Run
``python -m tests.benchmarks jumps``; takes more than a minute.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles
from tests.benchmarks.report import Row
from tests.fixtures.least_jump import Fade, Jumps, jumps

KINDS = (
    ("par-rgb", "8-bit"), ("bar-rgba", "8-bit"), ("bulb-rgbw", "8-bit"), ("tube-rgbw-16", "8-bit"),
    ("tube-rgbww-8", "8-segment"),
)  # fmt: skip
DRAWN, SEARCHED = 200, 3
NEAR = 1.1
WIDER = (0.2, 1.5)
"""Stops of light, and times the encoder's error of colour, that are given up for comparison."""


def rows() -> Iterator[Row]:
    shelf = load_profiles([shipped("profiles")])
    fades = _fades()
    for kind, mode in KINDS:
        profile = shelf[kind]
        found = [(jumps(profile, mode, fade, search=False).now, fade) for fade in fades]
        worst = [fade for _, fade in sorted(found, reverse=True)[:SEARCHED]]
        same = [jumps(profile, mode, fade) for fade in worst]
        wider = [jumps(profile, mode, fade, light=WIDER[0], slack=WIDER[1]) for fade in worst]
        yield Row(
            f"{kind}/{mode}: {SEARCHED} worst fades, now / least with its errors / with {WIDER[0]:g} stop",
            " · ".join(_three(one, more) for one, more in zip(same, wider, strict=True)),
            f"light within {max(one.light for one in same):.2f} stop, "
            f"colour {max(one.colour for one in same):.4f}",
            f"the worst ≤ {NEAR:g} × the least",
            same[0].now <= NEAR * same[0].least,
        )


def _three(same: Jumps, wider: Jumps) -> str:
    return f"{same.now:.4f} / {same.least:.4f} / {wider.least:.4f}"


def _fades() -> list[Fade]:
    """Half of them from any level to any, half rising from 2 %."""
    chance = np.random.default_rng(3)
    drawn = []
    for number in range(DRAWN):
        start, end = chance.uniform(0.02, 1.0, 2).tolist()
        cct_k = chance.uniform(2800.0, 6400.0, 2).tolist()
        if number % 2:
            start, end = 0.02, float(chance.uniform(0.03, 0.3))
        drawn.append(((start, end), (cct_k[0], cct_k[1])))
    return drawn
