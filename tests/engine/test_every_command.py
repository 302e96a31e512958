"""Every light and show command has somebody who carries it out, and what changes the look can be undone."""

from __future__ import annotations

import contextlib

import pytest

from onecrew.commands.command import Command, PlaybackCommand, ShowCommand
from onecrew.commands.light import SetLight
from onecrew.commands.running import Recall
from onecrew.commands.session import Redo, Undo
from onecrew.commands.takes import TakeStart
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from tests.commands.test_table import CUE, EXAMPLES, LAMP, PROFILES, SHOW

DESK_COMMANDS = [one for one in EXAMPLES if isinstance(one, PlaybackCommand | ShowCommand)]
every = pytest.mark.parametrize("command", DESK_COMMANDS, ids=lambda command: command.kind)


def edited() -> Desk:
    """A desk with a cue that shows, edits kept with it, and an edit on top."""
    desk = Desk(SHOW, PROFILES, 0.0)
    edit, away, back = (
        SetLight(fixtures=(LAMP.id,), level=0.11),
        Recall(cue=SHOW.cues[1].number),
        Recall(cue=CUE.number),
    )
    for at, command in enumerate((back, edit, away, back, edit)):
        desk.carry_out(command, 60.0 * at)
    return desk


@every
def test_it_is_carried_out_or_refused_for_what_the_show_has(command: Command) -> None:
    try:
        edited().carry_out(command, 400.0)
    except Refused as refused:
        assert "not something the desk does" not in str(refused)


@every
def test_what_changes_the_look_is_a_step_of_undo(command: Command) -> None:
    desk = edited()
    before, steps = desk.playback.edited_look(), len(desk.history.undo)
    with contextlib.suppress(Refused):
        desk.carry_out(command, 400.0)
    if desk.playback.edited_look() != before and not isinstance(command, Undo | Redo | TakeStart):
        assert len(desk.history.undo) > steps
