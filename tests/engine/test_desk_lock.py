"""A locked desk: what touches the lamps or says who reaches them stays as it is, however it is asked."""

from __future__ import annotations

import json

import pytest

from onecrew.commands.command import Command
from onecrew.commands.cue_list import RenumberCue
from onecrew.commands.cues import Store
from onecrew.commands.light import Compare, SetLight
from onecrew.commands.network import SetOutput, SetRemote
from onecrew.commands.rig import PutFixture
from onecrew.commands.running import Lock, Recall
from onecrew.commands.session import Rename, Undo
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from onecrew.playback.edits import edited
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Output, Place, Remote, Sacn, Show
from tests.process.sandbox import SHOW

START = Show.model_validate_json(json.dumps(SHOW))
OUTPUT = SetOutput(output=Output(sacn=Sacn(priority=150)))
REMOTE = SetRemote(remote=Remote.model_validate({"page": {"listen": "127.0.0.1:8000"}}))
MOVED = PutFixture(fixture=START.rig.fixtures[0].model_copy(update={"address": 101}))
NUMBERED = RenumberCue(cue="2", to="2.5")
TOUCHES = pytest.mark.parametrize(
    "command", [OUTPUT, REMOTE, MOVED, NUMBERED], ids=lambda command: command.kind
)


def desk() -> Desk:
    return Desk(START, load_profiles(), 0.0)


@TOUCHES
def test_it_is_refused_in_a_sentence_and_nothing_changes(command: Command) -> None:
    locked = desk()
    locked.carry_out(Lock(on=True), 1.0)
    with pytest.raises(Refused, match="the desk is locked"):
        locked.carry_out(command, 2.0)
    assert (locked.show, locked.revision, locked.undo_words) == (START, 1, "")
    locked.carry_out(Lock(on=False), 3.0)
    locked.carry_out(command, 4.0)
    assert locked.show != START


@TOUCHES
def test_nor_is_it_taken_back(command: Command) -> None:
    locked = desk()
    locked.carry_out(command, 1.0)
    changed = locked.show
    locked.carry_out(Lock(on=True), 2.0)
    with pytest.raises(Refused, match="the desk is locked"):
        locked.carry_out(Undo(), 3.0)
    assert locked.show == changed


def test_what_touches_no_lamp_goes_on() -> None:
    locked = desk()
    locked.carry_out(Lock(on=True), 1.0)
    locked.carry_out(Rename(name="Second pass"), 2.0)
    assert locked.show.name == "Second pass"


def test_what_shows_is_stored_as_one_more_cue_and_in_place_of_none() -> None:
    locked = desk()
    locked.carry_out(Recall(cue="1", fade_s=0.0), 1.0)
    locked.carry_out(Lock(on=True), 2.0)
    with pytest.raises(Refused, match="would change a cue"):
        locked.carry_out(Store(cue="1", name="Other", replace=True), 3.0)
    assert locked.show == START
    locked.carry_out(Store(cue="9", name="As filmed"), 4.0)
    assert [cue.number for cue in locked.show.cues][-1] == "9"


def test_edits_are_stored_as_one_more_cue_while_a_comparison_is_on_and_the_light_stays() -> None:
    locked = desk()
    locked.carry_out(Recall(cue="1", fade_s=0.0), 1.0)
    locked.carry_out(SetLight(fixtures=("window",), level=0.125), 2.0)
    locked.carry_out(Compare(on=True), 3.0)
    locked.carry_out(Lock(on=True), 4.0)
    before = locked.slots(5.0).tolist()
    locked.carry_out(Store(cue="9", name="As edited"), 5.0)
    assert locked.show.cues[-1].look["window"].level == 0.125
    assert (locked.slots(7.0).tolist(), locked.playback.comparing) == (before, True)
    locked.carry_out(Lock(on=False), 8.0)
    locked.carry_out(Compare(on=False), 9.0)
    assert (locked.frame(10.0).level[0], locked.playback.cue) == (0.125, "9")
    assert edited(locked.playback, locked.compiled) == set()


def test_a_lamp_that_is_moved_is_refused_by_what_was_asked() -> None:
    locked = desk()
    lamp = locked.show.rig.fixtures[0]
    locked.carry_out(Lock(on=True), 1.0)
    with pytest.raises(Refused, match=f"the desk is locked, and this would move {lamp.id}: unlock first"):
        locked.carry_out(PutFixture(fixture=lamp.model_copy(update={"place": Place(x_m=1.0, y_m=1.0)})), 2.0)
    locked.carry_out(Lock(on=False), 3.0)
    locked.carry_out(PutFixture(fixture=lamp.model_copy(update={"place": Place(x_m=1.0, y_m=1.0)})), 4.0)
    assert locked.undo_words == f"move {lamp.id}"
