"""Reads what a colour meter says, as a person types it: any order, with units or without; pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from onecrew.colour.locus import uv60_to_white
from onecrew.colour.spaces import uv76_to_xy, xy_to_uv60, xy_to_uv76
from onecrew.colour.table import nearest_white_fast, white_to_uv76_fast
from onecrew.errors import Misuse
from onecrew.fixtures.averaging import averaged
from onecrew.language import reading
from onecrew.show.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT

EXAMPLE = "3150K -0.002 812lx"
SPOT_EXAMPLE = ".6902 .3081 812lx"

_LABEL = re.compile(r"^(cct|k|duv|tint|d|light|lux|lx|fc|l|x|y)[=:]?(?=[-+.\d])")
_UNIT = re.compile(r"(?<=\d)(k|lux|lx|fc|duv)$")
_MEANING = {
    "cct": "cct", "k": "cct",
    "duv": "duv", "tint": "duv", "d": "duv",
    "light": "light", "lux": "light", "lx": "light", "fc": "light", "l": "light",
    "x": "x", "y": "y",
}  # fmt: skip
_LAST_DIGIT = 1e-3
_ALIKE = 0.35
"""Two numbers are hard to tell apart if both could be the colour temperature that was asked, give or take."""


@dataclass(frozen=True, slots=True)
class Metered:
    """What a meter said of one light."""

    cct_k: float
    duv: float
    light: float | None
    """In the meter's unit; None where it was not told."""

    @property
    def said(self) -> str:
        return f"{self.cct_k:.0f} K {self.duv:+.4f}"


@dataclass(frozen=True, slots=True)
class Spot:
    """What a meter said of one coloured light."""

    xy: tuple[float, float]
    """CIE 1931."""
    light: float

    @property
    def said(self) -> str:
        return f"x {self.xy[0]:.4f} y {self.xy[1]:.4f}"


Read = TypeVar("Read", bound="Metered | Spot")


def mean_of(read: Sequence[Read]) -> tuple[Read, tuple[int, ...]]:
    """One reading out of several of the same light, and the places of those that do not belong."""
    points = np.array([[*_uv(one), np.log(one.light or 1.0)] for one in read])
    (u, v, light), out = averaged(points)
    kept = [one for i, one in enumerate(read) if i not in out] or list(read)
    if len(kept) == 1:
        return kept[0], out
    first = kept[0]
    if isinstance(first, Spot):
        x, y = uv76_to_xy(np.array([u, v])).tolist()
        return replace(first, xy=(x, y), light=float(np.exp(light))), out
    mired, duv = nearest_white_fast(np.array([[u, v]]))
    told = None if first.light is None else float(np.exp(light))
    return replace(first, cct_k=1e6 / float(mired[0]), duv=float(duv[0]), light=told), out


def disagreeing(name: str, read: Sequence[Metered | Spot], out: Sequence[int]) -> str:
    """Which readings of a light do not belong, as a sentence."""
    if len(read) == 2:
        return f"the two readings of {name} disagree, and their mean counts: read it once more"
    odd = " and ".join(read[i].said for i in out)
    return f"{odd} does not fit the other readings of {name} and is left out of their mean"


def spot(text: str) -> Spot:
    """Reads '.6902 .3081 812lx' or 'x=.6902 y=.3081 812'; raises ``Misuse`` with the fix."""
    known: dict[str, float] = {}
    plain = []
    for word in _words(text):
        kind, value, _ = _number(word)
        if kind in ("cct", "duv"):
            raise Misuse(f"an emitter's colour is told as x and y, as {SPOT_EXAMPLE}")
        if kind is None:
            plain.append(value)
        else:
            _take(known, kind, value, text, SPOT_EXAMPLE)
    for kind in ("x", "y", "light"):
        if kind not in known and plain:
            known[kind] = plain.pop(0)
    if plain or len(known) < 3:
        raise Misuse(f"'{text.strip()}' is not x, y and light; type them as {SPOT_EXAMPLE}")
    if known["light"] <= 0.0:
        raise Misuse("light is above 0, in any unit, the same for all readings")
    x, y = known["x"], known["y"]
    if 1.0 <= x + y <= 1.0 + _LAST_DIGIT:
        y = 1.0 - _LAST_DIGIT / 10.0 - x  # a deep red, rounded
    return Spot(reading.xy(f"{x:.6f},{y:.6f}"), known["light"])


def _uv(read: Metered | Spot) -> tuple[float, float]:
    if isinstance(read, Spot):
        u, v = xy_to_uv76(np.array(read.xy)).tolist()
    else:
        u, v = white_to_uv76_fast(1e6 / read.cct_k, read.duv).tolist()
    return u, v


def metered(text: str, asked_k: float) -> Metered:
    """Reads '3150K -0.002 812lx', '-.002 812 3150', 'x=.4301 y=.4012 812'; raises ``Misuse`` with the fix.

    Unmarked numbers are recognised by size: a Duv is between −0.05 and 0.05 or has a sign, the colour
    temperature is the one nearest to ``asked_k``, what is left is light. The light may be left out.
    """
    known: dict[str, float] = {}
    plain: list[tuple[float, bool]] = []
    for word in _words(text):
        kind, value, signed = _number(word)
        if kind is None:
            plain.append((value, signed))
        elif kind in known:
            raise Misuse(f"'{text.strip()}' gives the {_NAMES[kind]} twice")
        else:
            known[kind] = value
    if ("x" in known) != ("y" in known):
        raise Misuse("x and y come together, as x=.4301 y=.4012")
    for value, _ in [one for one in plain if one[1] or abs(one[0]) <= DUV_LIMIT]:
        _take(known, "duv", value, text)
    rest = [value for value, signed in plain if not signed and abs(value) > DUV_LIMIT]
    if "cct" not in known and "x" not in known:
        _take(known, "cct", _kelvin(rest, asked_k, text), text)
        rest.remove(known["cct"])
    for value in rest:
        _take(known, "light", value, text)
    return _whole(known, text)


_NAMES = {"cct": "colour temperature", "duv": "Duv", "light": "light", "x": "x", "y": "y"}


def _words(text: str) -> Iterable[str]:
    """The words of an entry in small letters, labels and units joined to their numbers, decimal points."""
    text = text.strip().lower().replace("−", "-").replace("–", "-")
    text = re.sub(r"\b(cct|duv|tint|light|lux|lx|x|y)\s*[=:]?\s+(?=[-+.\d])", r"\1=", text)
    text = re.sub(r"(?<=\d)\s+(k|lux|lx|fc)\b(?!\s*[=:])", r"\1", text)
    return [word for chunk in re.split(r"[\s;/|]+", text) for word in _at_commas(chunk) if word]


def _at_commas(chunk: str) -> list[str]:
    """A chunk divided at its commas, unless the one that it has is a decimal comma."""
    chunk = chunk.strip(",")
    if "." in chunk or not re.fullmatch(r"\D*\d{1,3},\d+\D*", chunk):
        return chunk.split(",")
    if re.fullmatch(r"\D*[1-9]\d{0,2},\d{3}\D*", chunk):
        raise Misuse(f"'{chunk}' could be two numbers; write {chunk.replace(',', '')}, without the comma")
    return [chunk.replace(",", ".")]


def _number(word: str) -> tuple[str | None, float, bool]:
    """What a word means, if it says so, its value, and whether it has a sign."""
    kind = None
    if label := _LABEL.match(word):
        kind, word = _MEANING[label[1]], word[label.end() :]
    if unit := _UNIT.search(word):
        kind, word = kind or _MEANING[unit[1]], word[: unit.start()]
    try:
        value = reading.number(word, "reading")
    except Misuse:
        raise Misuse(f"'{word}' is not a number; type what the meter says, as {EXAMPLE}") from None
    return kind, value, word.startswith(("+", "-"))


def _take(known: dict[str, float], kind: str, value: float, text: str, example: str = EXAMPLE) -> None:
    if kind in known:
        raise Misuse(
            f"'{text.strip()}' has one number too many; say what is what, as {example}, or leave one out"
        )
    known[kind] = value


def _kelvin(numbers: list[float], asked_k: float, text: str) -> float:
    fitting = [value for value in numbers if CCT_MIN_K <= value <= CCT_MAX_K]
    if not fitting:
        raise Misuse(f"'{text.strip()}' has no colour temperature; type it as {EXAMPLE}, or x=.4301 y=.4012")
    near = [value for value in fitting if abs(value / asked_k - 1.0) < _ALIKE]
    if len(near) > 1 or (len(fitting) > 1 and not near):
        raise Misuse(
            f"which is the colour temperature, {' or '.join(f'{value:g}' for value in near or fitting)}? "
            f"Mark it with a K, as {EXAMPLE}"
        )
    return near[0] if near else fitting[0]


def _whole(known: dict[str, float], text: str) -> Metered:
    if "x" in known:
        if "cct" in known or "duv" in known:
            raise Misuse("give the colour once: as CCT and Duv, or as x and y")
        cct_k, duv = _white_of(known["x"], known["y"])
    else:
        cct_k = reading.within(known["cct"], CCT_MIN_K, CCT_MAX_K, "colour temperature", " K")
        if "duv" not in known:
            raise Misuse(f"'{text.strip()}' has no Duv; if the meter shows none, type its x and y")
        duv = reading.within(known["duv"], -DUV_LIMIT, DUV_LIMIT, "Duv")
    light = known.get("light")
    if light is not None and light <= 0.0:
        raise Misuse("light is above 0, in any unit, the same for all readings")
    return Metered(cct_k, duv, light)


def _white_of(x: float, y: float) -> tuple[float, float]:
    reading.xy(f"{x:.6f},{y:.6f}")
    try:
        cct_k, duv = uv60_to_white(xy_to_uv60([x, y]))
    except ValueError:
        raise Misuse(f"x {x:g} y {y:g} is no white") from None
    return round(float(cct_k), 1), round(float(duv), 5)
