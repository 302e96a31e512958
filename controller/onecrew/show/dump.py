"""A show → JSON text that reads well and makes small diffs.

Keys keep the order of the models. What is absent, empty or at its default is left out, except where the
value is what one opens the file to see. Small groups stand on one line, so that a change of one lamp in one
cue is a change of one line.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

from onecrew.show.base import Model
from onecrew.show.light import Effect, White
from onecrew.show.scenes import Document, PatchedRig, document_of
from onecrew.show.show import Arrangement, Camera, Cue, Fade, Output, Reading, Sacn, Scene, Show

WIDTH = 100
"""Characters that a line may have, where it can be helped."""
INDENT = "  "

ALWAYS = object()
"""Stands for the default of a field that is never left out."""

KEPT: Mapping[type[Model], frozenset[str]] = {
    Document: frozenset({"format", "version", "rig", "output", "scenes"}),
    PatchedRig: frozenset({"fixtures"}),
    Scene: frozenset({"name", "camera", "cues"}),
    Arrangement: frozenset({"role"}),
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

OPENED: Mapping[str, int] = {
    "fixtures": 1, "scenes": 2, "arrangement": 1, "set_pieces": 1, "universes": 1, "cues": 2, "look": 1
}  # fmt: skip
"""Groups whose entries get a line each, or with 2, whose entries' own entries do."""


def dump_show(show: Show) -> str:
    """The text of a show file, ending in a newline; ``load.parse_show`` gives the same show back."""
    return _format(_data(document_of(show)), "", WIDTH, opened=1) + "\n"


def _data(value: Any) -> Any:
    """A model as plain data without what need not be written."""
    if isinstance(value, Model):
        found = {name: (getattr(value, name), default) for name, default in _defaults(type(value)).items()}
        return {
            name: _data(inner)
            for name, (inner, default) in found.items()
            if inner is not None and (default is ALWAYS or inner != default)
        }
    if isinstance(value, Mapping):
        return {key: _data(inner) for key, inner in value.items()}
    if isinstance(value, tuple):
        return [_data(inner) for inner in value]
    return value


@cache
def _defaults(model: type[Model]) -> Mapping[str, Any]:
    """By field: the value at which it is left out, or ``ALWAYS``."""
    kept = KEPT.get(model, frozenset())
    return {
        name: ALWAYS if name in kept or field.is_required() else field.get_default(call_default_factory=True)
        for name, field in model.model_fields.items()
    }


def _format(value: Any, margin: str, room: int, opened: int) -> str:
    """JSON text of plain data; ``margin`` leads every line but the first, ``room`` is left on the first.

    The outer ``opened`` groups take a line for each entry, however short they are.
    """
    if not isinstance(value, dict | list) or not value:
        return _line(value)
    if opened <= 0 and _depth(value) <= 2:
        line = _line(value)
        if len(line) <= room:
            return line
    inner = margin + INDENT
    if isinstance(value, dict):
        heads = {name: _line(name) + ": " for name in value}
        texts = [
            head + _format(value[name], inner, WIDTH - len(inner + head) - 1, OPENED.get(name, opened - 1))
            for name, head in heads.items()
        ]
        return f"{{\n{inner}{_lines(texts, inner)}\n{margin}}}"
    texts = [_format(part, inner, WIDTH - len(inner) - 1, opened - 1) for part in value]
    return f"[\n{inner}{_lines(texts, inner)}\n{margin}]"


_line = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
"""JSON on one line."""


def _lines(texts: list[str], margin: str) -> str:
    return f",\n{margin}".join(texts)


def _depth(value: Any) -> int:
    """Groups and lists within each other; a list of numbers alone counts as a number."""
    if isinstance(value, dict):
        return 1 + max((_depth(inner) for inner in value.values()), default=0)
    if isinstance(value, list):
        inside = max((_depth(inner) for inner in value), default=0)
        return 1 + inside if inside else 0
    return 0
