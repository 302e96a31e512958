"""Faders of OSC that run from 0 to 1 over the whites and the tints of a lamp. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from onecrew.errors import Mistake
from onecrew.show.profile import Mode

MIXED_K = (2000.0, 10000.0)
"""Whites over which a fader runs for a lamp that mixes any colour; common practice, no source."""
MIXED_DUV = (-0.02, 0.02)
"""Its tints, the same."""
CCT, TINT = "cct-fader", "tint-fader"
FIELDS = {CCT: "cct_k", TINT: "duv"}
"""Last part of an address, and the field of a light that such a fader sets."""


@dataclass(frozen=True, slots=True)
class Scale:
    """What a lamp's faders run over: whites in kelvin, tints in Duv; None for what it does not have.

    The fader of whites is even in mired, warmest at 0, which looks even; that of tints has neutral at 0.5.
    """

    whites: tuple[float, float] | None
    tints: tuple[float, float] | None

    def value(self, fader: str, share: float, lamp: str) -> float:
        """Kelvin or Duv at ``share`` (0–1) of a fader; ``Mistake`` where the lamp has none.

        >>> Scale((2000.0, 5000.0), (-0.01, 0.02)).value(CCT, 1 / 3, "hood")
        2500.0
        """
        ends = self.whites if fader == CCT else self.tints
        if ends is None:
            raise Mistake(f"{lamp} has no {'white' if fader == CCT else 'tint'} to set")
        low, high = ends
        if fader == CCT:
            return round(1e6 / (1e6 / low + share * (1e6 / high - 1e6 / low)), 1)
        return round((2.0 * share - 1.0) * high if share >= 0.5 else (1.0 - 2.0 * share) * low, 5)

    def share(self, fader: str, value: float) -> float | None:
        """Where a fader stands, 0–1, for kelvin or Duv; at an end for what is beyond it."""
        ends = self.whites if fader == CCT else self.tints
        if ends is None:
            return None
        low, high = ends
        if fader == CCT:
            share = (1e6 / low - 1e6 / value) / (1e6 / low - 1e6 / high)
        else:
            share = 0.5 + 0.5 * (value / high if value >= 0.0 else -value / low)
        return min(max(share, 0.0), 1.0)


def scale_of(mode: Mode) -> Scale:
    """The scale of a lamp in this mode."""
    whites = tints = None
    if mode.cct is not None and mode.cct.cct is not None:
        whites = (mode.cct.cct.warmest_k, mode.cct.cct.coolest_k)
    elif mode.tells_colours:
        whites = MIXED_K
    if mode.tint is not None and mode.tint.tint is not None:
        ends = (mode.tint.tint.points[0][1], mode.tint.tint.points[-1][1])
        tints = (min(ends), max(ends))
    elif mode.tells_colours and mode.cct is None:
        tints = MIXED_DUV
    return Scale(whites, tints)
