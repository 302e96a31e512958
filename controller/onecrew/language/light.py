"""A light in part, as one line says it: '22% 3400K +0.003', '15 56', 'x .45 .41', 'h 30 80', '-2s'. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K
from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.language.colours import named

NUMBERS = "15 56 = 15 %, 5600 K · t +3 = tint · x .45 .41 · h 30 80 = hue · -2s"
NAMES = "half cto · daylight"
EXAMPLES = f"{NUMBERS} · {NAMES}"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A light in part: what is None stays as it is."""

    level: float | None = None
    alike: bool = False
    """Every lamp gets this level, instead of keeping their ratio."""
    stops_by: float | None = None
    cct_k: float | None = None
    duv: float | None = None
    xy: tuple[float, float] | None = None
    hue: tuple[float, float] | None = None
    """Hue in degrees and saturation 0–1."""
    mired_by: float | None = None
    duv_by: float | None = None

    def changes(self) -> dict[str, Any]:
        """What it changes, as fields of a command."""
        fields = ("level", "stops_by", "cct_k", "duv", "xy", "hue", "mired_by", "duv_by")
        return {name: value for name in fields if (value := getattr(self, name)) is not None}

    def words(self) -> str:
        """It said back, so that a slip shows before Enter."""
        said: list[str] = []
        if self.level is not None:
            said.append(f"level {self.level * 100:g} %" + (", all alike" if self.alike else ""))
        if self.stops_by is not None:
            said.append(f"{'+' if self.stops_by > 0 else '−'}{abs(self.stops_by):g} stops")
        if self.cct_k is not None:
            said.append(f"{self.cct_k:g} K")
        if self.duv is not None:
            said.append(f"tint {'+' if self.duv > 0 else '−' if self.duv < 0 else ''}{abs(self.duv):g}")
        if self.mired_by is not None:
            said.append(f"{abs(self.mired_by):g} mired {'warmer' if self.mired_by > 0 else 'cooler'}")
        if self.duv_by is not None:
            said.append(f"{abs(self.duv_by):g} Duv towards {'green' if self.duv_by > 0 else 'magenta'}")
        if self.xy is not None:
            said.append(f"xy {self.xy[0]:g} {self.xy[1]:g}")
        if self.hue is not None:
            said.append(f"hue {self.hue[0]:g}°, saturation {self.hue[1] * 100:g} %")
        return ", ".join(said)


def read_light(text: str) -> Wanted:
    """Reads an entry; raises ``Misuse`` with what would be right.

    A number with a unit says what it is, one with a sign is a tint; of plain ones the first up to 100 is a
    level in per cent, the next a white, the next a tint; names are those of ``colours``.
    """
    tokens = text.lower().replace("−", "-").replace(", ", " ").replace(",", ".").split()
    if not tokens:
        raise Misuse("type a level, a colour temperature or both, as in: 15 56")
    by_name, tokens = named(tokens)
    by_letter, tokens = lettered(tokens, glued=True)
    wanted = Wanted()
    for token in tokens:
        wanted = _add(wanted, token)
    for changes in (*by_letter, *by_name):
        if any(getattr(wanted, field) is not None for field in changes):
            raise Misuse("the colour is given twice: by two names, or by a name and a number; remove one")
        wanted = replace(wanted, **changes)
    ways = {_WAYS[field] for field in wanted.changes() if field in _WAYS}
    if len(ways) > 1:
        raise Misuse(f"a colour is given twice: by {' and by '.join(sorted(ways))}; remove one of the two")
    return wanted


def read_colour(text: str) -> dict[str, Any]:
    """A colour alone, as the fields of a command: 'half cto', 'daylight', 'h 30 80', 'x .45 .41', '3400K'."""
    changes = read_light(text).changes()
    if not changes.keys() <= _WAYS.keys():
        raise Misuse(f"'{text}' says more than a colour; a level has an address of its own")
    return changes


_WAYS = {
    "cct_k": "a white",
    "duv": "a white",
    "mired_by": "a white",
    "duv_by": "a white",
    "xy": "xy",
    "hue": "hue",
}
_LETTERS: dict[str, tuple[str, Callable[[str], object], int]] = {
    "x": ("xy", reading.xy, 2),
    "h": ("hue", reading.hue_saturation, 2),
    "t": ("duv", reading.tint, 1),
}
"""By the letter before them: the field, how it is read, and of how many numbers."""


def lettered(words: Sequence[str], *, glued: bool = False) -> tuple[list[dict[str, Any]], list[str]]:
    """The fields of numbers after a letter, and the words that are left; ``glued``: 'h30 80' counts too.

    >>> lettered(["30%", "h", "30", "80"])
    ([{'hue': (30.0, 0.8)}], ['30%'])
    """
    found: list[dict[str, Any]] = []
    left: list[str] = []
    at = 0
    while at < len(words):
        letter, first = words[at][:1].lower(), words[at][1:]
        if letter in _LETTERS and (not first or (glued and first[0] in "+-.0123456789")):
            name, read, count = _LETTERS[letter]
            end = at + 1 + count - (1 + first.count(",") if first else 0)
            found.append({name: read(" ".join([*([first] if first else []), *words[at + 1 : end]]))})
            at = max(end, at + 1)
        else:
            left.append(words[at])
            at += 1
    return found, left


def _add(wanted: Wanted, token: str) -> Wanted:
    if marked := marked_word(token):
        if any(getattr(wanted, field) is not None for field in marked):
            raise Misuse(f"'{token}' says once more what was said before; remove one")
        return replace(wanted, **marked)
    if token in ("full", "off"):
        return replace(wanted, level=reading.level(token))
    if token.startswith("="):
        return replace(wanted, level=reading.level(token[1:], in_per_cent=True), alike=True)
    value = _number(token)
    if wanted.level is None and wanted.cct_k is None and value <= 100:
        return replace(wanted, level=reading.level(token, in_per_cent=True))
    if wanted.cct_k is None:
        try:
            return replace(wanted, cct_k=reading.kelvin(token))
        except Misuse:
            raise Misuse(
                f"a white goes from {CCT_MIN_K:.0f} to {CCT_MAX_K:.0f} K; 56 is 5600 K, and 5600 works too"
            ) from None
    if wanted.duv is not None:
        raise Misuse(f"'{token}' is one number too many: a level, a white and a tint are three")
    return replace(wanted, duv=reading.tint(token))


def marked_word(token: str) -> dict[str, Any] | None:
    """The field of a word that says by a unit or a sign what it is: '22%', '3400K', '-2s', '+0.003'; or None.

    >>> marked_word("15%"), marked_word("-2s"), marked_word("window")
    ({'level': 0.15}, {'stops_by': -2.0}, None)
    """
    token = token.lower().replace("−", "-")
    if token[:1] not in tuple("+-.0123456789"):
        return None
    bare = token.rstrip("abcdefghijklmnopqrstuvwxyz%")
    match token[len(bare) :]:
        case "%":
            return {"level": reading.level(token)}
        case "k":
            return {"cct_k": reading.kelvin(token)}
        case "s" | "st" | "stop" | "stops":
            if (stops := reading.stops(token)) == 0.0:
                raise Misuse("stops go from -15 to 15, as in: -2s")
            return {"stops_by": stops}
        case "" if token[0] in "+-":
            return {"duv": reading.tint(token)}
    return None


def _number(token: str) -> float:
    try:
        return reading.number(token, "")
    except Misuse:
        raise Misuse(f"'{token}' is no number; try: {EXAMPLES}") from None
