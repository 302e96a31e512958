"""Phrases: words before ``key=value`` pairs, a closing ``in 5s``, and fields made into a value. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from pydantic import ValidationError

from onecrew.errors import Misuse
from onecrew.language.names import nearest
from onecrew.language.reading import seconds
from onecrew.show.base import Model
from onecrew.show.faults import plain_faults

_PAIR = re.compile(r"^([A-Za-z_]+(?:-[A-Za-z]+)*)(\+=|-=|=)(.*)$", re.DOTALL)
_M = TypeVar("_M", bound=Model)


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


def nothing_more(words: Sequence[str], verb: str) -> None:
    if words:
        raise Misuse(f"'{verb}' stands alone; '{' '.join(words)}' has no meaning after it")


def timed(words: Sequence[str], high: float = 3600.0) -> tuple[list[str], float | None]:
    """Takes a closing ``in 5s`` off the words."""
    if len(words) >= 2 and words[-2].lower() == "in":
        return list(words[:-2]), seconds(words[-1], "time", high)
    return list(words), None


def one_of(value: str, known: Sequence[str], what: str) -> str:
    if value.lower() not in known:
        raise Misuse(f"{what} is {' or '.join(known)}, not '{value}'")
    return value.lower()


def unknown(owner: str, key: str, known: Sequence[str]) -> Misuse:
    return Misuse(f"{owner} has no '{key}'{nearest(key, known)}; it has {', '.join(known)}")
