"""Queries: what clients may ask of the engine besides its state. Nothing here changes anything."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from controller.engine.desk import Desk
from controller.errors import Mistake


def answer(topic: str, arguments: dict[str, Any], desk: Desk) -> dict[str, Any]:
    """Answers a question of a client; raises ``Mistake`` with a sentence where it makes no sense."""
    query = QUERIES.get(topic)
    if query is None:
        raise Mistake(f"the engine knows nothing of {topic!r}: it answers {', '.join(sorted(QUERIES))}")
    return query(desk, arguments)


QUERIES: dict[str, Callable[[Desk, dict[str, Any]], dict[str, Any]]] = {}
