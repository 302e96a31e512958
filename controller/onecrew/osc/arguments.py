"""OSC arguments: what a field of a command takes, read off its type, and values read as that.

OSC has few types and senders mix them: a fader sends 1.0 or 1, a button 1 for pressed and 0 for released.
What cannot be mistaken is taken; everything else is refused with a sentence that says what to send.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from types import UnionType
from typing import Annotated, Any, TypeGuard, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from onecrew.errors import Mistake
from onecrew.show.base import CUE_NUMBER, Model
from onecrew.show.faults import shown

Value = int | float | str | bool | None


class Form(Enum):
    """How an argument is sent: type tags, and the words for it."""

    SWITCH = ("T/F/i/f", "on or off: T or F, or 1 or 0")
    NUMBER = ("f/i", "a number")
    WHOLE = ("i", "a whole number")
    TEXT = ("s", "a text")
    CUE = ("s/i", 'a cue number such as "2.5"')
    NAME = ("s", "names of lamps or roles")
    DOCUMENT = ("s", "a text with JSON, as in the show file")
    COMMAND = ("s …", "another command: its name, then its arguments")


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument of a method, or ``many`` of a form in a row. ``low`` and ``high`` are for the reader; the
    command itself checks them."""

    name: str
    form: Form
    optional: bool = False
    low: float | None = None
    high: float | None = None
    many: bool = False

    @property
    def types(self) -> str:
        """The type tags of what is sent."""
        return f"{self.form.value[0]} …" if self.many else self.form.value[0]

    @property
    def words(self) -> str:
        """What to send, in words.

        >>> Argument("level", Form.NUMBER, low=0.0, high=1.0).words
        'a number from 0 to 1'
        """
        words = self.form.value[1]
        if self.low is not None and self.high is not None:
            words = f"{words} from {self.low:.12g} to {self.high:.12g}"
        several = ", each an argument" if self.form is Form.NAME else ", or several, each an argument"
        return words + several if self.many else words

    def fits(self, value: Value) -> bool:
        """Whether a value is of a kind that this form is sent as."""
        if self.form is Form.WHOLE:
            return _is_number(value)
        return isinstance(value, str) or (self.form is Form.CUE and _is_number(value))


PRESSED = Argument("pressed", Form.SWITCH, optional=True)
"""What a method without arguments of its own takes from a button: 0, the release, does nothing."""


# ── From the type of a field ────────────────────────────────────────────────────────────────────────


def argument_of(name: str, field: FieldInfo) -> Argument:
    """The argument for a field of a command."""
    kinds, bounds = _members(field.annotation, field.metadata)
    known = [kind for kind in kinds if kind is not type(None)]
    optional = not field.is_required()
    first = known[0]
    origin = get_origin(first)
    if origin is tuple:
        one = argument_of(name, FieldInfo(annotation=get_args(first)[0]))
        form = Form.NAME if one.form is Form.TEXT else one.form
        return Argument(name, form, optional, one.low, one.high, many=True)
    if len(known) > 1:
        return Argument(name, Form.COMMAND, optional)
    if first is str or origin is not None:
        cue = any(getattr(bound, "pattern", None) == CUE_NUMBER for bound in bounds)
        return Argument(name, Form.CUE if cue else Form.TEXT, optional)
    if issubclass(first, Model):
        return Argument(name, Form.DOCUMENT, optional)
    if first is bool:
        return Argument(name, Form.SWITCH, optional)
    form = Form.WHOLE if first is int else Form.NUMBER
    return Argument(name, form, optional, _edge(bounds, "ge", "gt"), _edge(bounds, "le", "lt"))


def _members(annotation: Any, metadata: Sequence[Any]) -> tuple[list[Any], list[Any]]:
    """The plain types that a type is made of, and every bound that is put on any of them."""
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *notes = get_args(annotation)
        return _members(inner, [*metadata, *notes])
    bounds = list(_spread(metadata))
    if origin in (Union, UnionType):
        kinds: list[Any] = []
        for member in get_args(annotation):
            member_kinds, member_bounds = _members(member, ())
            kinds += member_kinds
            bounds += member_bounds
        return kinds, bounds
    return [annotation], bounds


def _spread(metadata: Sequence[Any]) -> Iterator[Any]:
    for note in metadata:
        if isinstance(note, FieldInfo):
            yield from note.metadata
        else:
            yield note


def _edge(bounds: Sequence[Any], *names: str) -> float | None:
    """What the first bound of one of these names is."""
    edges = (getattr(bound, name, None) for bound in bounds for name in names)
    return next((float(edge) for edge in edges if edge is not None), None)


# ── Values ──────────────────────────────────────────────────────────────────────────────────────────


def read(argument: Argument, value: Value) -> Any:
    """The value as the command takes it; raises ``Mistake`` with a sentence where it is of another kind."""
    match argument.form:
        case Form.SWITCH if value in (0, 1) and value is not None:
            return bool(value)
        case Form.NUMBER if _is_number(value):
            return _finite(argument, value)
        case Form.WHOLE if _is_number(value):
            if _finite(argument, value) == int(value):
                return int(value)
        case Form.TEXT if isinstance(value, str):
            return value
        case Form.TEXT if isinstance(value, int) and not isinstance(value, bool):
            return str(value)
        case Form.CUE if isinstance(value, str):
            return value
        case Form.CUE if _is_number(value):
            return f"{_finite(argument, value):.3f}".rstrip("0").rstrip(".")
        case Form.DOCUMENT if isinstance(value, str):
            return _document(argument, value)
    raise Mistake(f"{argument.name}: {_what(value)}; send {argument.words}")


def _is_number(value: Value) -> TypeGuard[int | float]:
    """Whether it is a number: true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _finite(argument: Argument, value: float) -> float:
    if not math.isfinite(value):
        raise Mistake(f"{argument.name}: not a finite number; send {argument.words}")
    return shortest(value) if isinstance(value, float) else value


def shortest(value: float) -> float:
    """The number that was meant by a 32-bit float: the shortest that rounds to it.

    >>> shortest(0.15000000596046448)
    0.15
    """
    for digits in range(6, 10):
        candidate = float(f"{value:.{digits}g}")
        try:
            if struct.unpack("f", struct.pack("f", candidate))[0] == value:
                return candidate
        except OverflowError:
            break
    return value


def _document(argument: Argument, text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise Mistake(f"{argument.name}: this is not JSON; send {argument.words}") from None


def _what(value: Value) -> str:
    if value is None:
        return "nothing is given"
    return f"{shown(value)} is {'a text' if isinstance(value, str) else 'another kind of value'}"
