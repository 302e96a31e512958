"""Fields: what each field of the playback's state is, said once, in its type.

Saving, shifting in time and going over to a changed rig (``codec``) follow from this and nothing else.
"""

from __future__ import annotations

import dataclasses
import types
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

import numpy as np
from numpy.typing import DTypeLike

from onecrew.show.light import Light

LONG_AGO = -1e18
"""A time before everything (s)."""


class Per(StrEnum):
    """What the last axis of an array counts."""

    DESK = "nothing: one number for the whole desk"
    LAMP = "lamps in rig order"
    LAMP_AND_MEAN = "lamps in rig order and, last, the mean of all"
    OWNER = "what the field that holds this part says"


class What(StrEnum):
    ARRAY = "an array"
    PART = "a dataclass with fields of its own"
    FIXTURES = "fixture ids"
    LIGHTS = "a light for each lamp, as documents say it"
    EDITS = "lights of some lamps by their ids, by the number of a cue"
    COMMAND = "a command"
    PLAIN = "plain data"


@dataclass(frozen=True, slots=True)
class Kind:
    """What a field is."""

    what: What
    per: Per = Per.DESK
    rows: int = 0
    """Length of the first axis of a two-dimensional array; 0 where there is none."""
    dtype: DTypeLike = np.float64
    real: bool = False
    """A moment in real time; show time stands still when the clock changes."""
    new: float | Callable[[Any, Any], Any] = 0.0
    """Of a lamp that comes into the rig: a number, or a function of (playback, compiled show)."""
    part: Any = None
    optional: bool = False


def array(
    rows: int = 0,
    *,
    per: Per = Per.LAMP,
    dtype: DTypeLike = np.float64,
    real: bool = False,
    new: float | Callable[[Any, Any], Any] = 0.0,
) -> Kind:
    """Return the kind of an array of one or ``rows`` numbers a lamp."""
    return Kind(What.ARRAY, per, rows, dtype, real, new)


def per_lamp(new: float | Callable[[Any, Any], Any]) -> Kind:
    """Return the kind of a part whose arrays have one number a lamp, ``new`` for one that comes."""
    return Kind(What.PART, Per.LAMP, new=new)


RealTime = Annotated[float, Kind(What.PLAIN, real=True)]
"""Seconds of the monotonic clock."""
ShowTime = Annotated[float, Kind(What.PLAIN)]
"""Seconds of real time less what was spent held."""
Number = Annotated[float, Kind(What.PLAIN)]
"""No time."""
Fixtures = Annotated[tuple[str, ...], Kind(What.FIXTURES)]
EditsByCue = Annotated[tuple[tuple[str, tuple[tuple[str, Light], ...]], ...], Kind(What.EDITS)]
LightPerLamp = Annotated[tuple[Light, ...], Kind(What.LIGHTS)]


def kinds(type_: type) -> tuple[tuple[str, Kind], ...]:
    """Return name and kind of each field of a dataclass in order, without those that are derived.

    TypeError for an array that does not say what it is.
    """
    hints = get_type_hints(type_, include_extras=True)
    return tuple((field.name, _kind(hints[field.name])) for field in dataclasses.fields(type_) if field.init)


@lru_cache
def kinds_under(owner: Kind) -> tuple[tuple[str, Kind], ...]:
    """Return ``kinds`` of a part, as ``owner``, the kind of the field that holds it, makes them."""
    return tuple((name, _owned(owner, kind)) for name, kind in kinds(owner.part))


def _owned(owner: Kind, kind: Kind) -> Kind:
    if kind.per is not Per.OWNER:
        return kind
    return dataclasses.replace(kind, per=owner.per, new=kind.new if kind.real else owner.new)


def _kind(hint: Any) -> Kind:
    if get_origin(hint) in (Union, types.UnionType) and type(None) in get_args(hint):
        some = [_kind(one) for one in get_args(hint) if one is not type(None)]
        return dataclasses.replace(some[0], optional=True)
    if get_origin(hint) is Annotated:
        said: Kind
        type_, said = get_args(hint)[:2]
        return dataclasses.replace(said, part=type_) if said.what is What.PART else said
    if dataclasses.is_dataclass(hint):
        return Kind(What.PART, part=hint)
    if get_origin(hint) is np.ndarray:
        raise TypeError(f"a field of type {hint} does not say whose numbers it holds")
    return Kind(What.PLAIN)
