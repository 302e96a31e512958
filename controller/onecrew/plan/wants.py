"""Wants: the reading that somebody is after, read from words such as ``key f/2.8+0.3 ratio 4:1``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.language.places import length
from onecrew.plan.exposure import exposure_of
from onecrew.show.show import Camera

HELP = "write for example 'key f/2.8+0.3 ratio 4:1' or 'fall 1 across 0.7'"
_WORDS = re.compile(r"\b(key|ratio|contrast|fall|across)\b")
_STOP = re.compile(r"^(.*?)\s*([+−-]\s*[0-9.]+)?\s*(?:st|stops?)?$")
WORDS = ("key", "ratio", "contrast", "fall", "across")
MOST_RATIO = 1000.0


@dataclass(frozen=True, slots=True)
class Wants:
    """What is wanted; None is left as it is."""

    key_lux: float | None = None
    """Of the key lamps, facing the key."""
    ratio: float | None = None
    """Key : fill."""
    contrast: float | None = None
    """Lit : shadow side of the face."""
    fall: float | None = None
    """Stops that the key may lose across the move, above 0."""
    across_m: float | None = None
    """Length of the move; None is a step."""


def read_wants(text: str, camera: Camera) -> Wants:
    """The wants in words; ``key`` takes f/2.8 with stops added, stops against the notes, or lux.

    Raises ``Misuse`` with a sentence.

    >>> round(read_wants("key f/2.8 + 1, ratio 4:1", Camera(iso=800, shutter_s=1 / 48)).key_lux)
    235
    """
    parts = _WORDS.split(text.lower().replace(",", " ").replace("at ", " "))
    if parts[0].strip() or len(parts) < 3:
        raise Misuse(f"'{text.strip()}' does not say what is wanted; {HELP}")
    found = Wants()
    seen: set[str] = set()
    for word, value in zip(parts[1::2], (each.strip() for each in parts[2::2]), strict=True):
        if word in seen:
            raise Misuse(f"'{word}' is wanted twice; keep one")
        seen.add(word)
        if not value:
            raise Misuse(f"'{word}' has no figure; {HELP}")
        found = _add(found, word, value, camera)
    if found.across_m is not None and found.fall is None:
        raise Misuse("'across' says how long the move is for 'fall'; write fall 1 across 0.7")
    if found.ratio is not None and found.contrast is not None:
        raise Misuse("ratio and contrast are both set by the fill; want one of them")
    return found


def _add(wants: Wants, word: str, value: str, camera: Camera) -> Wants:
    if word == "key":
        return replace(wants, key_lux=_key(value, camera))
    if word == "fall":
        told = reading.number(re.sub(r"\s*(st|stops?)$", "", value.replace("−", "-")), "fall")
        return replace(wants, fall=reading.within(abs(told), 0.05, 10.0, "fall", " stops"))
    if word == "across":
        return replace(wants, across_m=reading.within(length(value, "across"), 0.05, 20.0, "across", " m"))
    one, _, other = value.partition(":")
    above, below = reading.number(one.strip(), word), reading.number(other.strip() or "1", word)
    told = reading.within(above / below if below else 0.0, 1.0 / MOST_RATIO, MOST_RATIO, word)
    return replace(wants, ratio=told) if word == "ratio" else replace(wants, contrast=told)


def _key(value: str, camera: Camera) -> float:
    """Lux from 'f/2.8', 'f/2.8+0.3', '+0.3' (against the notes) or '98 lx'."""
    if value.endswith(("lx", "lux")):
        return reading.within(reading.number(value.rstrip("lux").strip(), "key"), 0.01, 1e6, "key", " lx")
    match = _STOP.match(value)
    assert match is not None  # the pattern fits every text
    base, more = match[1].strip(), float(0)
    if match[2]:
        more = reading.stops(match[2].replace("−", "-").replace(" ", ""))
    elif not base.startswith("f"):
        raise Misuse(f"key '{value}' is no reading; write f/2.8+0.3, +0.3 against the camera notes, or 98 lx")
    notes = camera
    if base:
        notes = camera.model_copy(update={"aperture": reading.aperture(base), "t_stop": None})
    return float(exposure_of(notes).lux * 2.0**more)
