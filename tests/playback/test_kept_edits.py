"""Edits that nobody stored stay with their cue: said when it is left, offered on coming back."""

from __future__ import annotations

import pytest

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import Compare, Edits, SetLight
from onecrew.commands.running import Back, Go, Lock, Recall
from onecrew.commands.takes import TakeStart
from onecrew.errors import Refused
from onecrew.playback.codec import from_json, to_json
from onecrew.playback.edits import edited
from tests.playback.stage import Stage, cue, stage


def edited_desk() -> Stage:
    cues = [cue("1", {"key": 0.8, "fill": 0.4}), cue("2", {"key": 0.1}), cue("3", {"fill": 0.9})]
    desk = stage(("key", "fill"), cues).do(0.0, Recall(cue="2", fade_s=0.0))
    return desk.do(1.0, SetLight(fixtures=("key",), level=0.35))


LEAVING = [Go(), Back(), Recall(cue="3"), Recall(cue="1", fade_s=0.0), TakeStart(chain_from="3")]


@pytest.mark.parametrize("leaving", LEAVING)
def test_they_are_kept_said_and_offered_and_come_back(leaving: PlaybackCommand) -> None:
    desk = edited_desk().do(2.0, leaving)
    assert desk.playback.advice == "edits of key are kept with cue 2"
    assert desk.level(9.0, "key") in (0.0, 0.8)  # the cue runs as it is stored
    desk.do(10.0, Recall(cue="2"))
    assert desk.playback.advice == "cue 2 has edits of key that were not stored; they can be brought back"
    assert desk.level(15.0, "key") == 0.1  # offered, not forced on anybody
    desk.do(16.0, Edits())
    assert desk.level(17.0, "key") == 0.35
    assert edited(desk.playback, desk.compiled) == {"key"}
    with pytest.raises(Refused, match="no edits are kept with cue 2"):
        desk.do(18.0, Edits())


def test_an_auto_follow_keeps_them_too() -> None:
    cues = [cue("1", {"key": 0.8}, auto_follow_s=5.0), cue("2", {"key": 0.1})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1")).do(3.0, SetLight(fixtures=("key",), level=0.2))
    assert desk.level(9.0, "key") == 0.1
    assert desk.playback.advice == "edits of key are kept with cue 1"
    desk.do(10.0, Back()).do(12.5, Edits())
    assert desk.level(13.0, "key") == 0.2


def test_an_offer_ends_as_a_cue_without_edits_follows_by_itself() -> None:
    cues = [cue("1", {"key": 0.8}, auto_follow_s=5.0), cue("2", {"key": 0.1})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1"), SetLight(fixtures=("key",), level=0.2))
    desk.do(1.0, Recall(cue="1"))
    assert "they can be brought back" in desk.playback.advice
    assert desk.level(9.0, "key") == 0.1
    assert desk.playback.advice == ""


def test_what_is_compared_is_kept_as_it_was_edited() -> None:
    desk = edited_desk().do(2.0, Compare(on=True)).do(3.0, Go()).do(6.0, Back()).do(9.0, Edits())
    assert desk.level(10.0, "key") == 0.35


def test_a_look_without_edits_leaves_nothing_to_say() -> None:
    desk = edited_desk().do(2.0, SetLight(fixtures=("key",), level=0.1)).do(3.0, Go())
    assert (desk.playback.advice, desk.playback.kept) == ("", ())


def test_the_newest_edits_of_a_cue_are_the_ones_that_come_back() -> None:
    desk = edited_desk().do(2.0, Go()).do(5.0, Back())
    desk.do(8.0, SetLight(fixtures=("fill",), level=0.6)).do(9.0, Go()).do(12.0, Back()).do(15.0, Edits())
    assert desk.frame(16.0).level.tolist() == [0.1, 0.6]


def test_they_can_be_dropped_and_outlive_a_restart() -> None:
    desk = edited_desk().do(2.0, Go())
    twin = Stage(desk.compiled, from_json(to_json(desk.playback), desk.compiled), desk.show)
    assert twin.playback.kept == desk.playback.kept
    twin.do(5.0, Back(), Edits(drop=True))
    with pytest.raises(Refused, match="no edits"):
        twin.do(6.0, Edits())
    assert twin.level(9.0, "key") == 0.1


def test_a_lock_holds_them_back() -> None:
    desk = edited_desk().do(2.0, Go()).do(5.0, Back(), Lock(on=True))
    with pytest.raises(Refused, match="locked"):
        desk.do(6.0, Edits())
    assert desk.playback.kept
