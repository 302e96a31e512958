"""Correction gels: what each does to a white, in mired, Duv and stops.

Makers define "full" differently and halves are not exact halves, so each gel carries its own figure.
Sources by tag: ``swatch`` the swatch book of LEE Filters (204, 205, 206, 201, 202, 203), read in a public
copy of the maker's product pages; ``memory`` the same book (223, 218) and the CC values of the green and
magenta steps, from memory; ``computed`` Duv a CC unit, from a Gaussian absorber at 545 nm on Planckian
light. No maker publishes Duv for the green and magenta steps: take theirs as a close guess.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from onecrew.colour.mired import to_kelvin, to_mired

# Duv that one CC unit of magenta or green is worth, at the two whites of film lighting.
_DUV_PER_CC_5600_K = 0.00110
_DUV_PER_CC_3200_K = 0.00075
_MIRED_5600_K = 1e6 / 5600.0
_MIRED_3200_K = 1e6 / 3200.0


@dataclass(frozen=True, slots=True)
class Gel:
    """A correction gel by its trade name."""

    name: str
    shift_mired: float = 0.0
    """+ is warmer."""
    cc_green: float = 0.0
    """CC units, + towards green, − towards magenta."""
    transmission: float | None = None
    """Light let through, 0–1, where it is published."""
    source: str = ""

    @property
    def stops(self) -> float | None:
        """Light lost in stops, where the transmission is published."""
        return None if self.transmission is None else -math.log2(self.transmission)

    def duv_shift(self, cct_k: float) -> float:
        """Change of Duv on light of ``cct_k`` kelvin; + is green. Linear in mired between 5600 and 3200 K."""
        warmth = (1e6 / cct_k - _MIRED_5600_K) / (_MIRED_3200_K - _MIRED_5600_K)
        per_cc = _DUV_PER_CC_5600_K + min(max(warmth, 0.0), 1.0) * (_DUV_PER_CC_3200_K - _DUV_PER_CC_5600_K)
        return self.cc_green * per_cc

    def through(self, cct_k: float, duv: float = 0.0) -> tuple[float, float]:
        """(CCT in kelvin, Duv) of a white behind the gel; ValueError when it passes infinite kelvin."""
        mired = float(to_mired(cct_k)) + self.shift_mired
        if mired <= 0.0:
            raise ValueError(f"{self.name} on {cct_k:g} K passes the blue end of all whites")
        return float(to_kelvin(mired)), duv + self.duv_shift(cct_k)


GELS = (
    Gel("full CTO", +159.0, transmission=0.554, source="swatch"),
    Gel("half CTO", +109.0, transmission=0.708, source="swatch"),
    Gel("quarter CTO", +64.0, transmission=0.791, source="swatch"),
    Gel("eighth CTO", +26.0, source="memory"),
    Gel("full CTB", -137.0, transmission=0.340, source="swatch"),
    Gel("half CTB", -78.0, transmission=0.549, source="swatch"),
    Gel("quarter CTB", -35.0, transmission=0.693, source="swatch"),
    Gel("eighth CTB", -18.0, source="memory"),
    Gel("full plus green", cc_green=30.0, source="memory, computed"),
    Gel("half plus green", cc_green=15.0, transmission=0.817, source="swatch, computed"),
    Gel("quarter plus green", cc_green=7.5, transmission=0.846, source="swatch, computed"),
    Gel("eighth plus green", cc_green=3.5, source="memory, computed"),
    Gel("full minus green", cc_green=-30.0, source="memory, computed"),
    Gel("half minus green", cc_green=-15.0, transmission=0.720, source="swatch, computed"),
    Gel("quarter minus green", cc_green=-7.5, transmission=0.824, source="swatch, computed"),
    Gel("eighth minus green", cc_green=-3.5, source="memory, computed"),
)
