"""What was typed for a countdown or a take."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pydantic import ValidationError

from onecrew.commands.models import (
    Back,
    Blackout,
    CountdownTarget,
    Go,
    Hold,
    Lock,
    Recall,
    TakeEnd,
    TakeStart,
)

WORDS: dict[str, CountdownTarget] = {
    "go": Go(),
    "back": Back(),
    "blackout": Blackout(on=True),
    "hold": Hold(on=True),
    "lock": Lock(on=True),
    "take": TakeStart(),
    "cut": TakeEnd(),
}


@dataclass(frozen=True, slots=True)
class Wish:
    """Seconds to count down and the command at their end."""

    seconds: float
    command: CountdownTarget


def read_wish(text: str) -> Wish:
    """Reads '5', '20 take' or '8 recall 3'; raises ``ValueError`` with what would be right."""
    parts = text.split()
    try:
        seconds = float(parts[0]) if parts else 0.0
    except ValueError:
        raise ValueError("begin with the seconds, as in: 5 take") from None
    if not 0.0 < seconds <= 600.0:
        raise ValueError("count down from 1 to 600 seconds")
    rest = parts[1:]
    if not rest:
        return Wish(seconds, Go())
    if rest[0] == "recall" and len(rest) == 2:
        try:
            return Wish(seconds, Recall(cue=rest[1]))
        except ValidationError:
            raise ValueError(f"{rest[1]} is not a cue number") from None
    if len(rest) == 1 and rest[0] in WORDS:
        return Wish(seconds, WORDS[rest[0]])
    raise ValueError(f"after the seconds: {', '.join(WORDS)}, or recall and a cue number")


def read_take(text: str) -> TakeStart:
    """Reads 'B', 'B from 3' or, in the present setup, 'from 3'.

    Raises ``ValueError`` with what would be right.
    """
    found = re.fullmatch(r"(?P<setup>.*?)\s*(?:\bfrom\s+(?P<cue>\S+))?", text.strip())
    setup, cue = (found["setup"], found["cue"]) if found is not None else (text, None)
    if not setup and cue is None:
        raise ValueError("type a setup, a first cue or both: B, B from 3, or from 3")
    try:
        return TakeStart(setup=setup or None, chain_from=cue)
    except ValidationError:
        raise ValueError(
            "a setup has at most 80 characters, and a cue is a number, as in: B from 3"
        ) from None
