"""Delays and auto-follows: what happens by itself, and when."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.running import Go, Recall
from onecrew.playback.events import advance, next_event
from onecrew.playback.render import auto_follow_left_s, fade_state
from tests.playback.stage import Stage, cue, same_frame, stage


def chain() -> Stage:
    cues = [
        cue("1", {"key": 1.0}, auto_follow_s=5.0),
        cue("2", {"key": 0.2}, delay_s=1.0, auto_follow_s=4.0),
        cue("3", {"key": 0.6}),
        cue("4", {"key": 0.0}),
    ]
    return stage(("key",), cues)


def test_a_delay_is_waited_out_while_the_fade_before_goes_on() -> None:
    desk = stage(("key",), [cue("1", {"key": 1.0}, fade={"in_s": 10.0}), cue("2", {}, delay_s=3.0)])
    desk.do(0.0, Go()).do(2.0, Go())
    assert desk.playback.cue == "2"
    assert next_event(desk.playback) == 5.0
    assert desk.level(4.0, "key") == pytest.approx(0.4)  # cue 1 still rises
    state = fade_state(desk.playback, 4.0, desk.compiled)
    assert state is not None
    assert (state.progress, state.left_s) == (0.0, 3.0)
    assert desk.level(6.0, "key") == pytest.approx(0.25)  # from 0.5, half way to black
    assert desk.level(7.0, "key") == 0.0


def test_a_recall_with_its_own_time_does_not_wait() -> None:
    desk = chain().do(0.0, Recall(cue="2", fade_s=2.0))
    assert desk.level(1.0, "key") == pytest.approx(0.1)
    assert auto_follow_left_s(desk.playback, 1.0) == 3.0


def test_follow_ons_count_from_when_the_cue_was_run_and_run_the_next() -> None:
    desk = chain().do(100.0, Go())
    assert auto_follow_left_s(desk.playback, 102.0) == 3.0
    assert desk.frame(104.99) and desk.playback.cue == "1"
    assert desk.frame(105.0) and desk.playback.cue == "2"
    assert desk.level(106.0, "key") == 1.0
    assert desk.level(107.0, "key") == pytest.approx(0.6)
    assert desk.frame(109.0) and desk.playback.cue == "3"
    assert desk.level(111.0, "key") == 0.6
    assert next_event(desk.playback) is None
    assert auto_follow_left_s(desk.playback, 111.0) is None


def test_another_cue_cancels_the_follow_on() -> None:
    desk = chain().do(0.0, Go()).do(1.0, Recall(cue="4"))
    assert next_event(desk.playback) is None
    assert desk.frame(60.0) and desk.playback.cue == "4"


def test_a_follow_on_after_the_last_cue_does_nothing() -> None:
    desk = stage(("key",), [cue("1", {"key": 1.0}, auto_follow_s=1.0)]).do(0.0, Go())
    assert desk.level(5.0, "key") == 1.0
    assert next_event(desk.playback) is None


def test_nothing_due_leaves_the_very_same_playback() -> None:
    desk = chain().do(0.0, Go())
    assert advance(desk.playback, 4.9, desk.compiled) is desk.playback


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 15.0), max_size=6), st.floats(10.0, 20.0))
def test_a_late_engine_changes_no_timing(wakes: list[float], end: float) -> None:
    punctual, late = chain().do(0.0, Go()), chain().do(0.0, Go())
    for now in sorted(wakes):
        punctual.frame(now)
    assert same_frame(punctual.frame(end), late.frame(end))


def test_a_chain_of_follow_ons_without_time_between_runs_through() -> None:
    cues = [cue(str(number), {"key": number / 100}, auto_follow_s=0.0) for number in range(1, 100)]
    desk = stage(("key",), cues).do(0.0, Go())
    assert desk.level(10.0, "key") == 0.99
    assert desk.playback.cue == "99"
