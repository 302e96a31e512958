"""Matches: a cue that a match found is stored, and the match goes into the log with its small pictures."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import Field

from onecrew.commands.command import Command
from onecrew.commands.cues import PutCue, refuse_taken
from onecrew.engine.queries import Answer, read
from onecrew.log.happenings import Happening
from onecrew.log.matched import MOST_PICTURE, matched
from onecrew.show.base import Model
from onecrew.show.show import Cue, Show

Picture = Annotated[str, Field(max_length=MOST_PICTURE, pattern=r"^[A-Za-z0-9+/]*={0,2}$")]


class _Store(Model):
    cue: Cue
    replace: bool = False
    """A cue of this number is there already, and its look goes."""
    pictures: dict[Literal["reference", "present", "predicted"], Picture] = Field(default_factory=dict)


def store(
    arguments: dict[str, Any],
    show: Show,
    carry_out: Callable[[Command], None],
    note: Callable[[Happening], None],
) -> Answer:
    """Stores the cue as any client would; raises what refuses that, with nothing logged."""
    asked = read(_Store, arguments)
    if not asked.replace:
        refuse_taken(show, asked.cue.number, ", or replace its look")
    carry_out(PutCue(cue=asked.cue))
    if asked.cue.predicted is not None:
        note(matched(asked.cue, {str(name): text for name, text in asked.pictures.items()}))
    return {"cue": asked.cue.number}
