"""The steps of undo outlive the engine, as long as the show is the one they lead to."""

from __future__ import annotations

import contextlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.command import Command
from onecrew.commands.cues import RemoveCue, Store
from onecrew.commands.light import Edits, Solo
from onecrew.commands.running import Master, Recall
from onecrew.commands.session import Rename, Undo
from onecrew.engine.kept_undo import KeptUndo, changed, difference, steps_in
from onecrew.playback.edits import edited
from tests.engine.test_undo import SHOW, Hand, left, offered, window

plain: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.floats(0, 1) | st.sampled_from("abc"),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from("abcd"), inner, max_size=4),
    max_leaves=12,
)


@given(plain, plain)
def test_a_difference_makes_the_one_of_the_other(old: Any, new: Any) -> None:
    by = json.loads(json.dumps(difference(old, new)))
    assert changed(old, by) == new
    assert difference(old, old) == []


STEPS: list[Command] = [
    window(level=0.3),
    Rename(name="The Day Baker"),
    window(level=0.25, cct_k=3400),
    Store(cue="9", name="Late"),
    Recall(cue="3"),
    RemoveCue(number="2"),
    Master(level=0.8),
]


def test_solo_that_a_cue_ended_comes_back_in_the_engine_that_comes_after() -> None:
    hand, kept = Hand().do(Solo(fixtures=("window",)), Recall(cue="3")), KeptUndo()
    data = json.loads(json.dumps(kept.data(hand.desk.history.undo, hand.desk.show)))
    hand.desk.history.undo = steps_in(data, hand.desk.show, light=True)
    assert hand.do(Undo()).desk.playback.solo == ("window",)


def state(hand: Hand) -> tuple[Any, ...]:
    """The show, the light, and what of it counts as edited in which cue."""
    one = hand.desk
    playback = one.playback
    return (
        one.show,
        playback.edited_look(),
        float(playback.master.goal),
        playback.cue,
        edited(playback, one.compiled),
    )


def test_every_step_can_be_taken_back_by_the_engine_that_comes_after() -> None:
    hand, kept, seen = Hand(), KeptUndo(), []
    for command in STEPS:
        seen.append(state(hand))
        hand.do(command)
        data = json.loads(json.dumps(kept.data(hand.desk.history.undo, hand.desk.show)))
    hand.desk.history.clear()
    hand.desk.history.undo = steps_in(data, hand.desk.show, light=True)
    for before in reversed(seen):
        hand.do(Undo())
        assert state(hand) == before
    assert hand.desk.show == SHOW


def test_edits_that_were_dropped_are_offered_by_the_engine_that_comes_after() -> None:
    hand = left().do(Edits(drop=True))
    data = json.loads(json.dumps(KeptUndo().data(hand.desk.history.undo, hand.desk.show)))
    hand.desk.history.undo = steps_in(data, hand.desk.show, light=True)
    hand.do(Undo())
    assert offered(hand) == {"window": 0.3}


def test_a_change_is_kept_small() -> None:
    hand = Hand().do(Rename(name="B"))
    data = KeptUndo().data(hand.desk.history.undo, hand.desk.show)
    assert len(data["steps"][0]) < 150


def test_what_was_made_of_a_step_is_made_anew_over_another_show() -> None:
    hand, kept = Hand().do(Rename(name="B")), KeptUndo()
    steps, show = hand.desk.history.undo, hand.desk.show
    kept.data(steps, show)
    other = show.model_copy(update={"cues": show.cues[:-1]})
    data = kept.data(steps, other)
    assert data == KeptUndo().data(steps, other)
    step = steps_in(data, other, light=True)[-1]
    assert step.show == SHOW


def test_over_another_show_they_are_forgotten() -> None:
    hand = Hand().do(Rename(name="B"), window(level=0.1))
    data = KeptUndo().data(hand.desk.history.undo, hand.desk.show)
    assert not steps_in(data, SHOW, light=True)


def test_where_the_lamps_are_black_again_steps_of_light_alone_are_left_out() -> None:
    hand = Hand().do(Rename(name="B"), window(level=0.1))
    data = KeptUndo().data(hand.desk.history.undo, hand.desk.show)
    assert [step.words for step in steps_in(data, hand.desk.show, light=False)] == ["rename the show to B"]


@pytest.mark.parametrize("data", [{}, {"show": 1}, {"show": "x", "steps": ["{"]}])
def test_foreign_data_is_an_error_or_nothing(data: dict[str, Any]) -> None:
    with contextlib.suppress(LookupError, TypeError, ValueError):
        assert not steps_in(data, SHOW, light=True)
