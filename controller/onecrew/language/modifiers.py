"""Modifiers as a person writes them: 'softbox 1 0.6x0.6 ahead 0.3, grid 0.5 beam 40 half'. Pure."""

from __future__ import annotations

import re
from typing import get_args

from onecrew.errors import Misuse
from onecrew.language import places, reading, writing
from onecrew.language.names import nearest
from onecrew.language.phrases import build
from onecrew.show.show import Modifier

KINDS: tuple[str, ...] = get_args(Modifier.model_fields["kind"].annotation)
HINT = "softbox 1 0.6x0.6, egg crate 0.5 beam 40, gel 0.5 straw; kinds: " + ", ".join(KINDS)
_ALSO = {
    "egg crate": "grid",
    "honeycomb": "grid",
    "soft box": "softbox",
    "silk": "diffusion",
    "frost": "diffusion",
    "bounce": "reflector",
    "barn doors": "flag",
}
"""Other words of the trade for a kind."""
_STOPS = re.compile(r"\d*\.?\d+(st|stops?)?")
SIZE = re.compile(r"[\d.].*[x×*].*")


def read_modifiers(text: str) -> tuple[Modifier, ...]:
    """Modifiers from kind, stops, width x height, ahead and beam, a note; '' and 'none' are none.

    >>> read_modifiers("softbox 1 0.6x0.6 ahead 0.3, gel 0.5 straw")[0].width_m
    0.6
    """
    if text.strip().lower() == "none":
        return ()
    return tuple(_read(part.split()) for part in text.split(",") if part.strip())


def _read(words: list[str]) -> Modifier:
    called = next((two for two in (" ".join(words[:2]).lower(), words[0].lower()) if two in _ALSO), "")
    kind = _ALSO.get(called, words[0].lower())
    rest = words[max(len(called.split()), 1) :]
    if kind not in KINDS:
        known = (*KINDS[:-1], *_ALSO, KINDS[-1])
        raise Misuse(f"'{words[0]}' is no modifier{nearest(kind, known)}; they are {', '.join(known)}")
    fields: dict[str, object] = {"kind": kind}
    if rest and _STOPS.fullmatch(rest[0].lower()):
        fields["stops"] = float(re.sub("[a-z]", "", rest.pop(0).lower()))
        if rest and rest[0].lower() in ("st", "stop", "stops"):
            rest.pop(0)
    note = called.split()  # what it was called is kept in its own words
    while rest:
        word = rest.pop(0)
        if SIZE.fullmatch(word) and len(note) == len(called.split()):
            fields["width_m"], fields["height_m"] = places.read_size(word, f"the {kind}", (2,))
        elif word.lower() == "ahead" and rest:
            fields["distance_m"] = places.length(rest.pop(0), "ahead")
        elif word.lower() == "beam" and rest:
            fields["beam_deg"] = reading.number(rest.pop(0).rstrip("°"), "beam")
        else:
            note.append(word)
    return build(Modifier, **fields, note=" ".join(note))


def write_modifiers(items: tuple[Modifier, ...]) -> str:
    """Modifiers as they are typed; '' for none."""
    return ", ".join(" ".join(filter(None, _write(item))) for item in items)


def _write(item: Modifier) -> tuple[str, ...]:
    sized = item.width_m is not None and item.height_m is not None
    return (
        item.kind,
        writing.number(item.stops) if item.stops else "",
        f"{writing.number(item.width_m)}x{writing.number(item.height_m)}" if sized else "",  # type: ignore[arg-type]
        f"ahead {writing.number(item.distance_m)}" if item.distance_m else "",
        f"beam {writing.number(item.beam_deg)}" if item.beam_deg is not None else "",
        item.note.replace(",", ";"),
    )
