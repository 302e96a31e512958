"""Hear: a command as it came over the wire → a command, or a sentence on what is wrong with it."""

from __future__ import annotations

from functools import cache
from typing import Any, get_args

from pydantic import ValidationError

from onecrew.commands.models import AnyCommand
from onecrew.errors import Mistake
from onecrew.show.faults import listed, meant, plain_faults


def hear(raw: object) -> AnyCommand:
    """The command in ``raw``, parsed JSON; raises ``Mistake`` with every fault in plain words."""
    kinds = _kinds()
    kind = raw.get("kind") if isinstance(raw, dict) else None
    model = kinds.get(kind) if isinstance(kind, str) else None
    if model is None:
        close = meant(kind, kinds) if isinstance(kind, str) else None
        hint = f"did you mean {close}?" if close else f"there are {listed(sorted(kinds))}"
        raise Mistake(f"{kind!r} is no kind of command; {hint}")
    # By the model itself, not the union: the places of faults read as the user wrote them.
    try:
        command: AnyCommand = model.model_validate(raw)
    except ValidationError as error:
        faults = plain_faults(error, _schema(model))
        raise Mistake("; ".join(f"{kind}: {fault}" for fault in faults)) from None
    return command


@cache
def _kinds() -> dict[str, Any]:
    return {model.model_fields["kind"].default: model for model in get_args(AnyCommand)}


@cache
def _schema(model: Any) -> dict[str, Any]:
    """Kept, since a client that goes on sending nonsense must not cost the engine more than a sentence."""
    schema: dict[str, Any] = model.model_json_schema()
    return schema
