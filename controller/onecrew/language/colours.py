"""Colours by name: the trade's corrections as shifts, and whites by what gives them. Pure.

A correction moves the white that a lamp has: CTO and CTB by the mired between the two kelvins that the trade
names for them, which makers round differently by up to some 15 mired; plus and minus green by Duv. Everything
that is neither is a hue and a saturation, or a chromaticity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Named:
    """What a name stands for, as fields of a command, and where its figures come from."""

    changes: dict[str, Any]
    source: str


def _correction(from_k: float, to_k: float) -> Named:
    """By 1e6/K of the stated conversion: 6500 → 3200 K is +159 mired."""
    return Named(
        {"mired_by": round(1e6 / to_k - 1e6 / from_k)},
        f"mired shift of the stated conversion {from_k:g} → {to_k:g} K; makers differ",
    )


def _green(cc: float) -> Named:
    """A CC figure by 0.0011 Duv a unit."""
    return Named(
        {"duv_by": round(0.0011 * cc, 4)},
        f"CC {abs(cc):g} (from memory) × 0.0011 Duv, own arithmetic from published transmittances at 5500 K",
    )


def _white(cct_k: float, duv: float, source: str) -> Named:
    return Named({"cct_k": cct_k, "duv": duv}, source)


_STEPS = ("full", "half", "quarter", "eighth")
_CTO = ((6500, 3200), (6500, 3800), (6500, 4600), (6500, 5550))
_CTB = ((3200, 5700), (3200, 4300), (3200, 3600), (3200, 3400))
_CC = (30.0, 15.0, 7.5, 3.5)

NAMES: dict[str, Named] = {
    **{f"{step} cto": _correction(*kelvins) for step, kelvins in zip(_STEPS, _CTO, strict=True)},
    **{f"{step} ctb": _correction(*kelvins) for step, kelvins in zip(_STEPS, _CTB, strict=True)},
    **{f"{step} plus green": _green(cc) for step, cc in zip(_STEPS, _CC, strict=True)},
    **{f"{step} minus green": _green(-cc) for step, cc in zip(_STEPS, _CC, strict=True)},
    "candle": _white(1900.0, 0.0, "common figure for a candle flame, from memory"),
    "household": _white(2700.0, 0.0, "a nominal white of ANSI C78.377"),
    "tungsten": _white(3200.0, 0.0, "studio tungsten, common practice"),
    "daylight": _white(5600.0, 0.0033, "5600 K by common practice, on the daylight locus of CIE 15"),
    "overcast": _white(6500.0, 0.0032, "CIE standard illuminant D65"),
    "shade": _white(7500.0, 0.0030, "CIE illuminant D75"),
}
_LONGEST = 3
_SHORT = {"1/1": "full", "1/2": "half", "1/4": "quarter", "1/8": "eighth"}


def named(words: Sequence[str]) -> tuple[list[dict[str, Any]], list[str]]:
    """What the names among the words change, and the words that are left.

    A correction without a fraction is a full one.

    >>> named(["22%", "half", "CTO"])
    ([{'mired_by': 109}], ['22%'])
    """
    found: list[dict[str, Any]] = []
    left: list[str] = []
    plain = [_SHORT.get(word.lower(), word.lower()) for word in words]
    at = 0
    while at < len(words):
        for length in range(_LONGEST, 0, -1):
            said = " ".join(plain[at : at + length])
            one = NAMES.get(said) or NAMES.get(f"full {said}")
            if one is not None and at + length <= len(words):
                found.append(dict(one.changes))
                at += length
                break
        else:
            left.append(words[at])
            at += 1
    return found, left
