"""Which cue a look is stored into: a number, and maybe a name."""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Target:
    """A cue's number and, for a new one or to rename it, its name."""

    number: str
    name: str = ""


def read_target(text: str, offered: str = "") -> Target:
    """Reads '7', '7 Street' or, for the number that was ``offered``, 'Street'.

    Raises ``ValueError`` with what would be right.
    """
    number, _, name = text.partition(" ")
    if offered and text and not text[0].isdigit():
        number, name = offered, text
    if not re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,3})?", number):
        raise ValueError("begin with the cue's number, as in: 7 Street, or 2.5 for one between 2 and 3")
    if len(name.strip()) > 80:
        raise ValueError("a name has at most 80 characters")
    return Target(number, name.strip())
