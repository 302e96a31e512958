"""One lamp put elsewhere in a room that was worked out."""

from __future__ import annotations

from dataclasses import replace

from onecrew.plan.stage import Stage, source_of
from onecrew.show.show import Place


def move(stage: Stage, name: str, place: Place) -> None:
    """Puts one lamp somewhere else; the rest of the room stays as it was worked out."""
    at = next(i for i, lamp in enumerate(stage.lamps) if lamp.fixture.id == name)
    lamp = stage.lamps[at]
    moved = replace(lamp, fixture=lamp.fixture.model_copy(update={"place": place}))
    stage.lamps = (*stage.lamps[:at], moved, *stage.lamps[at + 1 :])
    stage.sources[name] = source_of(moved, stage)
