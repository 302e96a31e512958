"""Phrases: what the verbs of ``onecrew send`` have in common. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import ValidationError

from onecrew.cli import readings
from onecrew.cli.exits import Misuse
from onecrew.show.base import CUE_NUMBER, Model
from onecrew.show.faults import plain_faults
from onecrew.show.profile import Profile
from onecrew.show.show import Show

_PAIR = re.compile(r"^([A-Za-z_]+)(\+=|-=|=)(.*)$", re.DOTALL)
CUE = re.compile(CUE_NUMBER, re.ASCII)
_M = TypeVar("_M", bound=Model)


@dataclass(frozen=True, slots=True)
class Context:
    """What names are looked up in: the show as the engine has it, and the profiles it can use."""

    show: Show | None = None
    profiles: Mapping[str, Profile] = field(default_factory=dict)

    def need_show(self) -> Show:
        if self.show is None:
            raise Misuse("this needs the show that an engine runs")
        return self.show


@dataclass(frozen=True, slots=True)
class Pair:
    """``key=value``, ``key+=value`` or ``key-=value``."""

    key: str
    sign: str
    value: str


def build(model: type[_M], **fields: object) -> _M:
    """A model of these fields; what it refuses becomes a sentence."""
    try:
        return model.model_validate(fields)
    except ValidationError as error:
        raise Misuse(str(plain_faults(error, model.model_json_schema())[0])) from error


def split(words: Sequence[str], texts: frozenset[str] = frozenset()) -> tuple[list[str], list[Pair]]:
    """Words before the first pair, and the pairs; a bare word after a pair of ``texts`` goes on with it."""
    head: list[str] = []
    pairs: list[Pair] = []
    for word in words:
        match = _PAIR.match(word)
        if match:
            pairs.append(Pair(match[1].lower(), match[2], match[3]))
        elif pairs and pairs[-1].key in texts:
            last = pairs.pop()
            pairs.append(Pair(last.key, last.sign, f"{last.value} {word}"))
        elif pairs:
            raise Misuse(f"'{word}' stands alone after {pairs[-1].key}{pairs[-1].sign}; write key=value")
        else:
            head.append(word)
    return head, pairs


def plain(pair: Pair, verb: str) -> str:
    """The value of a ``key=value``; nudges are refused."""
    if pair.sign != "=":
        raise Misuse(f"'{verb}' sets {pair.key} outright: write {pair.key}={pair.value}")
    return pair.value


def cue_number(words: Sequence[str], show: Show | None, verb: str) -> str:
    """A cue number as written, or the number of the cue with this whole name."""
    said = " ".join(words)
    if CUE.match(said):
        return said
    if not said:
        raise Misuse(f"'{verb}' needs a cue, as '{verb} 2'")
    names = {cue.name.casefold(): cue.number for cue in show.cues if cue.name} if show else {}
    if said.casefold() in names:
        return names[said.casefold()]
    raise Misuse(
        f"'{said}' is not a cue number and no cue has that name{readings.nearest(said.casefold(), names)}"
    )


def nothing_more(words: Sequence[str], verb: str) -> None:
    if words:
        raise Misuse(f"'{verb}' stands alone; '{' '.join(words)}' has no meaning after it")


def timed(words: Sequence[str], high: float = 3600.0) -> tuple[list[str], float | None]:
    """Takes a closing ``in 5s`` off the words."""
    if len(words) >= 2 and words[-2].lower() == "in":
        return list(words[:-2]), readings.seconds(words[-1], "time", high)
    return list(words), None


def whole(text: str, high: int, what: str, low: int = 1) -> int:
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
        raise Misuse(f"{what} '{text}' is not a whole number")
    return int(readings.within(int(text), low, high, what))


def one_of(value: str, known: Sequence[str], what: str) -> str:
    if value.lower() not in known:
        raise Misuse(f"{what} is {' or '.join(known)}, not '{value}'")
    return value.lower()


def unknown(owner: str, key: str, known: Sequence[str]) -> Misuse:
    return Misuse(f"{owner} has no '{key}'{readings.nearest(key, known)}; it has {', '.join(known)}")
