"""One lamp for a still or a meter, whatever else shows; the look waits under it, untouched."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.commands.command import Command, Log, PlaybackCommand, Row, plainly
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language import reading, writing
from onecrew.language.names import lamps
from onecrew.language.phrases import build, plain, split, unknown
from onecrew.show.base import CctK, Duv, Level, Name
from onecrew.show.show import Show

KEPT_S = 3.0
"""How long a still's light stays after it was asked for: whoever wants it longer asks again."""
KEEP_EVERY_S = KEPT_S / 4
"""How often one asks again."""


class ShowStill(PlaybackCommand):
    """Show one lamp alone for a still, for three seconds at a time; the look comes back after it."""

    kind: Literal["still"] = "still"
    fixture: Name | None = None
    """None: every lamp out."""
    output: Level = 1.0
    """Fraction of the lamp's full light; the master does not count."""
    cct_k: CctK | None = None
    duv: Duv = 0.0
    words: Annotated[str, Field(max_length=120)] = ""
    """What clients say of it: '3 of 15: key alone at 2700 K'."""
    off: bool = False
    """Give the light back."""
    again: bool = False
    """Keep the one that shows; refused where it does not any more."""

    @model_validator(mode="after")
    def _one_thing(self) -> Self:
        if self.off and (self.fixture is not None or self.again):
            raise ValueError("the light is given back and asked for at once; leave one of the two out")
        return self


_USAGE = "'still' needs a lamp and its light, as 'still key output=50% cct=2700', or dark, or off"
_KEYS: dict[str, tuple[str, Callable[[str, str], float]]] = {
    "output": ("output", reading.level),
    "cct": ("cct_k", reading.kelvin),
    "tint": ("duv", reading.tint),
}


def _read(words: list[str], context: Context) -> Command:
    if words in (["off"], ["dark"]):
        return ShowStill(off=words == ["off"])
    head, pairs = split(words)
    if not head:
        raise Misuse(_USAGE)
    names = lamps(" ".join(head), context.show, "still")
    if len(names) != 1:
        raise Misuse(_USAGE)
    fields: dict[str, object] = {}
    for pair in pairs:
        if pair.key not in _KEYS:
            raise unknown("a still", pair.key, tuple(_KEYS))
        name, read = _KEYS[pair.key]
        fields[name] = read(plain(pair, "still"), pair.key)
    return build(ShowStill, fixture=names[0], **fields)


def _write(command: ShowStill, _: Show | None) -> str:
    if command.off:
        return "still off"
    if command.fixture is None:
        return "still dark"
    white = "" if command.cct_k is None else f" cct={writing.number(command.cct_k)}"
    tint = f" tint={writing.number(command.duv)}" if command.duv else ""
    return f"still {command.fixture} output={writing.level(command.output)}{white}{tint}"


STILL = Row(
    model=ShowStill,
    forms={
        "still key output=50% cct=2700": "one lamp alone for three seconds; `onecrew stills` asks again",
        "still dark": "every lamp out, likewise",
        "still off": "the look again, at once",
    },
    reads={"still": _read},
    writes=_write,
    says=plainly("show one lamp for a still"),
    log=Log.STATE,
    lock_refuses=lambda command: not command.again,  # a lock keeps the still that shows
)

ROWS = (STILL,)
