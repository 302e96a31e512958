"""The common ground of every document model: frozen, exact, and finite."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated
from unicodedata import normalize

from pydantic import BaseModel, ConfigDict, Field

from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT


class Model(BaseModel):
    """A value: equal by content, never changed in place, with no field it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


Level = Annotated[float, Field(ge=0.0, le=1.0)]
Seconds = Annotated[float, Field(ge=0.0, le=3600.0)]
CctK = Annotated[float, Field(ge=CCT_MIN_K, le=CCT_MAX_K)]
Duv = Annotated[float, Field(ge=-DUV_LIMIT, le=DUV_LIMIT)]
SHORT_NAME = r"^[a-z0-9][a-z0-9_-]{0,31}$"
Name = Annotated[str, Field(pattern=SHORT_NAME)]
"""How a fixture, an emitter or a set piece is called: short, typable without quotes."""
CUE_NUMBER = r"^[0-9]{1,4}(\.[0-9]{1,3})?$"
CueNumber = Annotated[str, Field(pattern=CUE_NUMBER)]
UNIVERSE_NUMBER = r"^[1-9][0-9]{0,4}$"
UniverseKey = Annotated[str, Field(pattern=UNIVERSE_NUMBER)]
"""A universe number as a JSON key."""


def folded(name: str) -> str:
    """What names have in common that look alike: capitals or small, accents composed or not, blanks around.

    >>> folded(" Cafe\u0301") == folded("CAF\u00c9")
    True
    """
    return normalize("NFC", normalize("NFC", name).casefold()).strip()


def known_as(name: str, known: Iterable[str]) -> str | None:
    """The one of these names that is meant: the same, or else the first that looks alike; None if none is."""
    names = list(known)
    if name in names:
        return name
    return next((one for one in names if folded(one) == folded(name)), None)


def cue_order(number: str) -> tuple[int, int]:
    """Sort key of a cue number: 2 < 2.5 < 2.10 < 3 (the part after the point counts as a whole number).

    >>> sorted(["10", "2", "2.10", "2.5"], key=cue_order)
    ['2', '2.5', '2.10', '10']
    """
    whole, _, part = number.partition(".")
    return int(whole), int(part or 0)
