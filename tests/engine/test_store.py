"""Storing: a look is replaced only where that was said."""

from __future__ import annotations

import pytest

from onecrew.commands.command import Command
from onecrew.commands.cue_list import CopyCue
from onecrew.commands.cues import PutCue, Store
from onecrew.commands.light import SetLight
from onecrew.commands.running import Hold, Lock, Recall
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from onecrew.playback.edits import edited
from onecrew.show.profiles import load_profiles
from tests.commands.test_scenes import SHOW


def desk() -> Desk:
    one = Desk(SHOW, load_profiles(), 0.0)
    one.carry_out(Recall(cue="2", fade_s=0.0), 1.0)
    one.carry_out(SetLight(fixtures=("hood",), level=0.9), 2.0)
    return one


def hood(one: Desk, number: str) -> float:
    cue = one.show.cue(number)
    assert cue is not None
    return cue.look["hood"].level if "hood" in cue.look else 0.0


def test_a_number_that_is_taken_is_refused_by_the_name_of_its_cue() -> None:
    one = desk()
    with pytest.raises(Refused, match="a cue 2 already, Before four: take another number, or replace"):
        one.carry_out(Store(cue="2", name="Late"), 3.0)
    assert one.show == SHOW


def test_a_name_alone_makes_a_new_cue_after_the_last() -> None:
    one = desk()
    one.carry_out(Store(name="Late"), 3.0)
    new = one.show.cues[-1]
    assert (new.name, hood(one, new.number), one.playback.cue) == ("Late", 0.9, new.number)
    assert one.show.cues[:-1] == SHOW.cues
    assert one.undo_words == f"store cue {new.number}"


def test_the_number_of_a_new_cue_is_free_in_every_scene() -> None:
    one = desk()
    one.carry_out(Store(), 3.0)
    elsewhere = {cue.number for scene in SHOW.other_scenes for cue in scene.cues}
    assert one.show.cues[-1].number not in elsewhere


def test_the_present_cue_is_replaced_where_that_is_said_and_keeps_its_name() -> None:
    one = desk()
    one.carry_out(Store(replace=True), 3.0)
    cue = one.show.cue("2")
    assert cue is not None and (cue.name, hood(one, "2"), one.undo_words) == (
        "Before four",
        0.9,
        "replace cue 2",
    )
    one.carry_out(CopyCue(cue="2", to="9"), 4.0)
    one.carry_out(SetLight(fixtures=("hood",), level=0.1), 5.0)
    one.carry_out(Store(cue="9", replace=True), 6.0)
    assert (hood(one, "2"), hood(one, "9")) == (0.9, 0.1)


def test_there_is_nothing_to_replace_where_no_cue_is_on_or_none_has_the_number() -> None:
    one = Desk(SHOW, load_profiles(), 0.0)
    with pytest.raises(Refused, match="no cue is on"):
        one.carry_out(Store(replace=True), 1.0)
    with pytest.raises(Refused, match="there is no cue 77"):
        one.carry_out(Store(cue="77", replace=True), 1.0)
    assert one.show == SHOW


def waiting() -> Desk:
    """Cue 2 shows, edited; cue 77 waits out a delay of 5 s."""
    one = desk()
    first = one.show.cue("2")
    assert first is not None
    times = {"delay_s": 5.0, "auto_follow_s": None}
    late = first.model_copy(update={**times, "number": "77", "name": "Late", "look": {}, "shortcut": None})
    one.carry_out(PutCue(cue=late), 3.0)
    one.carry_out(Recall(cue="77"), 10.0)
    return one


def test_what_is_stored_in_a_delay_stays_and_the_cue_that_waited_does_not_come() -> None:
    one = waiting()
    one.carry_out(Store(cue="99"), 12.0)
    before = one.slots(13.0).tolist()
    one.advance(60.0)
    assert (one.playback.cue, one.slots(60.0).tolist(), hood(one, "99")) == ("99", before, 0.9)


@pytest.mark.parametrize("keeps", [Lock(on=True), Hold(on=True)], ids=lambda command: command.kind)
def test_under_a_lock_or_a_hold_that_cue_comes_and_is_the_one_that_is_told(keeps: Command) -> None:
    one = waiting()
    one.carry_out(keeps, 11.0)
    one.carry_out(Store(cue="99"), 12.0)
    assert one.playback.cue == "99"
    one.carry_out(Hold(on=False) if isinstance(keeps, Hold) else Lock(on=True), 13.0)
    one.advance(60.0)
    assert (one.playback.cue, float(one.frame(60.0).level.max())) == ("77", 0.0)


@pytest.mark.parametrize("keeps", [Lock(on=True), Hold(on=True)], ids=lambda command: command.kind)
def test_under_a_lock_or_a_hold_a_fade_goes_on_to_the_cue_that_is_told(keeps: Command) -> None:
    one = desk()
    one.carry_out(Recall(cue="1", fade_s=10.0), 10.0)
    one.carry_out(keeps, 12.0)
    one.carry_out(Store(cue="99"), 12.0)
    assert 0.0 < hood(one, "99") < 0.9
    assert (one.playback.cue, one.playback.next) == ("1", "2")
    one.carry_out(Hold(on=False) if isinstance(keeps, Hold) else Lock(on=True), 13.0)
    one.advance(60.0)
    assert float(one.frame(60.0).level[1]) == hood(one, "1")
    assert (one.playback.cue, edited(one.playback, one.compiled)) == ("1", set())


def test_a_held_fade_to_a_cue_that_is_replaced_meanwhile_goes_on_and_is_told_as_edited() -> None:
    one = desk()
    before = hood(one, "1")
    one.carry_out(Recall(cue="1", fade_s=10.0), 10.0)
    one.carry_out(Hold(on=True), 12.0)
    one.carry_out(Store(replace=True), 12.0)
    one.carry_out(Hold(on=False), 13.0)
    one.advance(60.0)
    assert float(one.frame(60.0).level[1]) == before != hood(one, "1")
    assert (one.playback.cue, "hood" in edited(one.playback, one.compiled)) == ("1", True)
