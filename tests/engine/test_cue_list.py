"""Cues copied, renumbered, timed and changed while something else shows; a rehearsed take learnt and run."""

from __future__ import annotations

import pytest

from onecrew.commands.countdown import Countdown
from onecrew.commands.cue_list import CopyCue, CopyTimes, Learn, RenumberCue, SetInCues
from onecrew.commands.cues import PutCue, RemoveCue
from onecrew.commands.light import Edits, Revert
from onecrew.commands.running import Go, Recall
from onecrew.commands.scenes import NewScene
from onecrew.commands.session import Undo
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.engine.recorded_state import recorded_state
from onecrew.engine.state import state_of
from onecrew.errors import Refused
from onecrew.playback.edits import edited
from tests.engine.test_undo import SHOW, Hand, window
from tests.playback.stage import same_frame


def cue(hand: Hand, number: str) -> PutCue:
    found = hand.desk.show.cue(number)
    assert found is not None
    return PutCue(cue=found)


def test_a_lamp_is_changed_in_cues_that_do_not_show_and_the_light_stays() -> None:
    hand = Hand()
    before = hand.sent("window"), hand.desk.playback.edited_look()
    hand.do(SetInCues(cues=("2", "3"), change=window(level=0.07)))
    assert (hand.sent("window"), hand.desk.playback.edited_look()) == before
    assert [cue(hand, number).cue.look["window"].level for number in ("2", "3")] == [0.07, 0.07]
    whites = [[one.look["window"].white for one in show.cues[1:3]] for show in (hand.desk.show, SHOW)]
    assert whites[0] == whites[1]
    assert hand.desk.undo_words == "set window in cue 2, 3"
    hand.do(Undo())
    assert hand.desk.show == SHOW


def test_a_nudge_counts_from_what_each_cue_has() -> None:
    hand = Hand().do(SetInCues(cues=("2", "3"), change=window(level_by=0.02)))
    for number in ("2", "3"):
        was = SHOW.cue(number)
        assert was is not None
        assert cue(hand, number).cue.look["window"].level == pytest.approx(was.look["window"].level + 0.02)


def test_in_the_cue_that_shows_the_light_follows_and_is_no_edit() -> None:
    hand = Hand().do(SetInCues(cues=("1", "3"), change=window(level=0.2)))
    assert hand.level("window") == 0.2
    assert edited(hand.desk.playback, hand.desk.compiled) == set()
    hand.do(Undo())
    assert (hand.level("window"), hand.desk.show) == (0.6, SHOW)


def test_an_unknown_cue_changes_none() -> None:
    hand = Hand()
    with pytest.raises(Refused, match="no cue 42 in this scene; it has 1, 2, 3"):
        hand.do(SetInCues(cues=("2", "42"), change=window(level=0.2)))
    assert hand.desk.show == SHOW


def test_a_cue_is_copied_whole_but_for_its_shortcut() -> None:
    hand = Hand().do(CopyCue(cue="2", to="2.5"))
    copy, original = cue(hand, "2.5").cue, cue(hand, "2").cue
    assert copy == original.model_copy(update={"number": "2.5", "shortcut": None})
    assert hand.desk.playback.next == "2"
    assert hand.do(CopyCue(cue="1", to="1.5")).desk.playback.cue == "1"
    with pytest.raises(Refused, match=r"there is a cue 2\.5 already"):
        hand.do(CopyCue(cue="1", to="2.5"))


def test_the_cue_that_shows_keeps_showing_under_its_new_number() -> None:
    hand = Hand().do(window(level=0.3), RenumberCue(cue="1", to="2.5"))
    playback = hand.desk.playback
    assert (playback.cue, playback.next, hand.level("window")) == ("2.5", "3", 0.3)
    assert edited(playback, hand.desk.compiled) == {"window"}
    hand.do(Undo())
    assert (hand.desk.playback.cue, hand.desk.playback.next, hand.desk.show) == ("1", "2", SHOW)


def test_a_cue_that_waits_out_its_delay_comes_under_its_new_number() -> None:
    hand = Hand()
    late = cue(hand, "2").cue.model_copy(update={"delay_s": 5.0, "auto_follow_s": None})
    hand.do(PutCue(cue=late))
    looked = cue(hand, "2").cue.look["window"].level
    hand.do(Go()).do(RenumberCue(cue="2", to="2.5"))
    assert hand.level("window") == 0.6
    assert hand.sent("window") and hand.level("window") == looked
    assert hand.desk.playback.cue == "2.5"


def test_a_countdown_runs_the_cue_that_it_was_set_for() -> None:
    for command in (Recall(cue="2"), TakeStart(chain_from="2")):
        hand = Hand().do(Countdown(seconds=3.0, command=command)).do(RenumberCue(cue="2", to="2.5"))
        hand.desk.advance(hand.now + 2.0)
        assert (hand.desk.playback.cue, hand.desk.playback.remark) == ("2.5", "")


def test_edits_stay_with_a_cue_that_gets_another_number_while_it_is_not_on() -> None:
    hand = Hand().do(window(level=0.3), Recall(cue="3"), RenumberCue(cue="1", to="7"), Recall(cue="7"))
    assert hand.desk.playback.advice.startswith("cue 7 has edits of window")
    hand.do(Edits())
    assert hand.level("window") == 0.3


def test_a_take_is_learnt_by_the_numbers_of_now() -> None:
    hand = rehearsed().do(RenumberCue(cue="2", to="2.5"), Learn())
    assert [one.auto_follow_s for one in hand.desk.show.cues[:3]] == [3.2, 4.3, None]
    with pytest.raises(Refused, match="from cue 1 to cue 8, which does not come after it"):
        rehearsed().do(RenumberCue(cue="2", to="8"), Learn())


def test_times_are_copied_and_nothing_else() -> None:
    hand = Hand().do(CopyTimes(cue="3", to=("1", "2")))
    given = cue(hand, "3").cue
    for number in ("1", "2"):
        was, now = SHOW.cue(number), cue(hand, number).cue
        assert was is not None and (now.look, now.name) == (was.look, was.name)
        assert (now.fade, now.delay_s, now.auto_follow_s) == (given.fade, given.delay_s, given.auto_follow_s)


def rehearsed() -> Hand:
    """Cues 1 to 3, run by hand at 0, 3.2 and 7.5 s of a take."""
    hand = Hand()
    still = tuple(one.model_copy(update={"auto_follow_s": None}) for one in SHOW.cues)
    hand.desk.follow(SHOW.model_copy(update={"cues": still}), hand.desk.profiles, hand.now)
    hand.do(TakeStart(chain_from="1"))
    return hand.do(Go(), wait_s=3.2).do(Go(), wait_s=4.3).do(TakeEnd(good=True), wait_s=5.0)


def test_the_go_times_of_a_take_become_the_times_of_the_cues_and_both_passes_are_the_same() -> None:
    hand = rehearsed()
    before = hand.desk.show
    hand.do(Learn())
    assert [one.auto_follow_s for one in hand.desk.show.cues[:3]] == [3.2, 4.3, None]
    passes = []
    for _ in range(2):
        start = 64.0 * (hand.now // 64.0 + 1.0)
        hand.desk.carry_out(TakeStart(chain_from="1", from_black=True), start)
        frames, ran = [], []
        for frame in range(44 * 15):
            hand.now = start + frame / 44
            hand.desk.advance(hand.now)
            frames.append(hand.desk.frame(hand.now))
            ran.append(hand.desk.playback.cue)
        hand.do(TakeEnd(), window(level=0.9), Go(), wait_s=0.7)
        assert [ran.index(number) / 44 for number in "123"] == pytest.approx([0.0, 3.2, 7.5], abs=1 / 44)
        passes.append(frames)
    assert all(same_frame(one, other) for one, other in zip(*passes, strict=True))
    while hand.desk.undo_words != "learn the times of the last take":
        hand.do(Undo())
    assert hand.do(Undo()).desk.show == before


def test_a_take_that_began_in_a_cue_counts_from_its_start() -> None:
    hand = Hand().do(TakeStart()).do(Go(), wait_s=6.0).do(TakeEnd())
    hand.do(Learn())
    assert cue(hand, "1").cue.auto_follow_s == 6.0


def test_what_cannot_be_learnt_is_said() -> None:
    with pytest.raises(Refused, match="rehearse one first"):
        Hand().do(Learn())
    hand = Hand().do(TakeStart(), Recall(cue="3"), TakeEnd())
    with pytest.raises(Refused, match="from cue 1 to cue 3, which does not come after it"):
        hand.do(Learn())


def test_the_cue_that_shows_is_told_as_deleted_where_it_was() -> None:
    hand = Hand().do(Recall(cue="2", fade_s=0.0))
    assert told(hand) == "2 " + cue(hand, "2").cue.name
    hand.do(RemoveCue(number="2"))
    assert told(hand) == "2 (deleted)"
    recorded = recorded_state(state_of(hand.desk, hand.now))["cue"]
    assert recorded == {"number": "2", "name": "(deleted)", "note": ""}
    with pytest.raises(Refused, match="cue 2 was deleted, so there is no look to revert to: recall one"):
        hand.do(Revert())
    hand.do(Undo())
    assert told(hand) == "2 " + cue(hand, "2").cue.name
    hand.do(NewScene(name="Delivery"))
    assert told(hand) == "None "


def told(hand: Hand) -> str:
    state = state_of(hand.desk, hand.now)
    return f"{state.playback.cue} {state.cue_name}"
