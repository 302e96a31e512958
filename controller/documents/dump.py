"""A show → JSON text that reads well and makes small diffs.

Keys keep the order of the models. What is absent, empty or at its default is left out, except where the
value is what one opens the file to see. Small groups stand on one line, so that a change of one lamp in one
cue is a change of one line.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from controller.documents.base import Model
from controller.documents.light import Effect, White
from controller.documents.show import Camera, Cue, Fade, Output, Reading, Rig, Sacn, Show

WIDTH = 100
"""Characters that a line may have, where it can be helped."""
INDENT = "  "

ALWAYS: Mapping[type[Model], frozenset[str]] = {
    Show: frozenset({"format", "version", "rig", "output", "camera", "cues"}),
    Rig: frozenset({"fixtures"}),
    Output: frozenset({"sacn"}),
    Sacn: frozenset({"priority", "universes"}),
    Camera: frozenset({"iso", "shutter_s", "fps", "aperture", "white_balance_k"}),
    Cue: frozenset({"name", "fade", "look"}),
    Fade: frozenset({"in_s", "out_s", "curve"}),
    White: frozenset({"duv"}),
    Effect: frozenset({"rate", "depth", "seed"}),
    Reading: frozenset({"asked_duv"}),
}
"""Fields that are written even at their default."""


def dump_show(show: Show) -> str:
    """The text of a show file, ending in a newline; ``load.parse_show`` gives the same show back."""
    return _format(_data(show), "", WIDTH, whole=True) + "\n"


def _data(value: Any) -> Any:
    """A model as plain data without what need not be written."""
    if isinstance(value, Model):
        kept = ALWAYS.get(type(value), frozenset())
        fields = type(value).model_fields
        return {
            name: _data(inner)
            for name in fields
            if (inner := getattr(value, name)) is not None
            and (name in kept or fields[name].is_required() or inner != _default(fields[name]))
        }
    if isinstance(value, Mapping):
        return {key: _data(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [_data(inner) for inner in value]
    return value


def _default(field: Any) -> Any:
    return field.get_default(call_default_factory=True)


def _format(value: Any, margin: str, room: int, *, whole: bool = False) -> str:
    """JSON text of plain data; ``margin`` leads every line but the first, ``room`` is left on the first."""
    line = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if not isinstance(value, dict | list) or not value:
        return line
    if not whole and len(line) <= room and _depth(value) <= 2:
        return line
    inner = margin + INDENT
    if isinstance(value, dict):
        names = [json.dumps(name, ensure_ascii=False) + ": " for name in value]
        texts: Sequence[str] = [
            name + _format(part, inner, WIDTH - len(inner) - len(name) - 1)
            for name, part in zip(names, value.values(), strict=True)
        ]
        left, right = "{", "}"
    else:
        texts = [_format(part, inner, WIDTH - len(inner) - 1) for part in value]
        left, right = "[", "]"
    lines = f",\n{inner}".join(texts)
    return f"{left}\n{inner}{lines}\n{margin}{right}"


def _depth(value: Any) -> int:
    """Groups and lists within each other; a list of numbers alone counts as a number."""
    if isinstance(value, dict):
        return 1 + max((_depth(inner) for inner in value.values()), default=0)
    if isinstance(value, list):
        inside = max((_depth(inner) for inner in value), default=0)
        return 1 + inside if inside else 0
    return 0
