"""Edits kept with a cue go with it, and come back where undo brings the cue back."""

from __future__ import annotations

from onecrew.commands.cue_list import CopyCue
from onecrew.commands.cues import RemoveCue, Store
from onecrew.commands.light import Edits
from onecrew.commands.running import Back, Go, Recall
from onecrew.commands.scenes import NewScene
from onecrew.commands.session import Redo, Undo
from onecrew.commands.takes import TakeStart
from onecrew.engine.kept_undo import KeptUndo, steps_in
from onecrew.playback.edits import edited
from onecrew.show.light import Light
from tests.engine.test_undo import SHOW, Hand, window

OFFER = "cue 1 has edits of window that were not stored; they can be brought back"


def left() -> Hand:
    """Cue 3 shows; cue 1 has edits."""
    return Hand().do(window(level=0.12), Recall(cue="3"))


def offered(hand: Hand) -> str:
    hand.do(Recall(cue="3"), Recall(cue="1"))
    return hand.desk.playback.advice


def test_a_new_cue_of_the_number_is_offered_none_of_them() -> None:
    hand = left().do(RemoveCue(number="1"), Store(cue="1", name="Another"))
    assert offered(hand) == ""
    assert hand.desk.playback.kept == ()


def test_that_they_go_is_said_to_whoever_edited_the_cue() -> None:
    hand = left().do(RemoveCue(number="1"))
    said = "edits of window that were not stored went with cue 1 and come back with it"
    assert hand.desk.playback.advice == said
    hand.do(Undo(), Redo())
    assert hand.desk.playback.advice == said


def test_they_come_back_with_the_cue_and_go_with_it_again() -> None:
    hand = left()
    kept = hand.desk.playback.kept
    hand.do(RemoveCue(number="1"), Store(cue="1", name="Another"))
    for _ in range(2):
        hand.do(Undo(), Undo())
        assert (hand.desk.show, hand.desk.playback.kept) == (SHOW, kept)
        hand.do(Redo(), Redo())
        assert hand.desk.playback.kept == ()
    hand.do(Undo(), Undo())
    assert offered(hand) == OFFER


def test_they_come_back_where_storing_their_cue_is_done_again() -> None:
    hand = Hand().do(Store(cue="9"), window(level=0.12), TakeStart(chain_from="3"))
    kept = hand.desk.playback.kept
    assert [number for number, _ in kept] == ["9"]
    hand.do(Undo(), Undo())
    assert (hand.desk.show, hand.desk.playback.kept) == (SHOW, ())
    hand.do(Redo())
    assert hand.desk.playback.kept == kept


def test_they_come_back_in_the_engine_after_this_one() -> None:
    hand = left()
    kept = hand.desk.playback.kept
    hand.do(RemoveCue(number="1"))
    data = KeptUndo().data(hand.desk.history.undo, hand.desk.show)
    hand.desk.history.undo = steps_in(data, hand.desk.show, light=True)
    hand.do(Undo())
    assert hand.desk.playback.kept == kept


def test_those_of_a_cue_in_another_scene_stay_with_it() -> None:
    hand = left()
    kept = hand.desk.playback.kept
    hand.do(NewScene(name="Late"))
    assert hand.desk.playback.kept == kept


def test_the_light_of_a_deleted_cue_is_no_look_of_another_that_takes_its_number() -> None:
    hand = Hand().do(RemoveCue(number="1"))
    before = hand.desk.playback.edited_look()
    hand.do(CopyCue(cue="3", to="1"))
    look = hand.desk.show.cues[0].look
    differ = {name for name, light in before.items() if light != look.get(name, Light(level=0.0))}
    assert differ and edited(hand.desk.playback, hand.desk.compiled) == differ
    hand.do(Go())
    assert (hand.desk.playback.cue, [number for number, _ in hand.desk.playback.kept]) == ("2", ["1"])
    hand.do(Back(), Edits())
    assert hand.desk.playback.edited_look() == before


def test_a_cue_that_undo_brings_back_is_the_one_that_shows() -> None:
    hand = Hand().do(window(level=0.12), RemoveCue(number="1"), Undo())
    assert edited(hand.desk.playback, hand.desk.compiled) == {"window"}


def test_edits_made_on_a_cue_that_was_deleted_are_said_not_to_be_kept() -> None:
    hand = Hand().do(RemoveCue(number="1"), window(level=0.12), Go())
    assert hand.desk.playback.advice == "edits of window are not kept, since their cue 1 was deleted"
    assert hand.desk.playback.kept == ()
    assert hand.do(Undo()).level("window") == 0.12


def test_other_edits_stay_as_a_cue_goes() -> None:
    hand = left().do(window(level=0.2), Recall(cue="1"), RemoveCue(number="1"))
    assert [number for number, _ in hand.desk.playback.kept] == ["3"]
