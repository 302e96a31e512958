"""Hold: fades, effects, delays and auto-follows stand still, and go on from where they stood."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import SetLight
from onecrew.commands.running import Blackout, Go, Hold, Master, Recall
from onecrew.playback.events import next_event
from tests.playback.stage import Stage, cue, same_frame, stage


def fading() -> Stage:
    flame = {"level": 0.8, "white": {"cct_k": 2000}, "effect": {"kind": "flame", "seed": 3}}
    cues = [
        cue("1", {"key": 1.0, "oven": flame}, fade={"in_s": 10.0, "out_s": 10.0}, auto_follow_s=20.0),
        cue("2", {"key": 0.5}, delay_s=2.0),
    ]
    return stage(("key", "oven"), cues).do(0.0, Go())


@settings(max_examples=50, deadline=None)
@given(st.floats(0.0, 25.0), st.floats(0.0, 1000.0), st.floats(0.0, 10.0))
def test_after_a_hold_everything_goes_on_as_if_no_time_had_passed(
    at: float, pause: float, later: float
) -> None:
    plain, held = fading(), fading()
    plain.frame(at)
    held.frame(at)
    held.do(at, Hold(on=True))
    frozen = held.frame(at)
    assert same_frame(held.frame(at + pause), frozen)
    assert same_frame(frozen, plain.frame(at))
    held.do(at + pause, Hold(on=False))
    one, other = held.frame(at + pause + later), plain.frame(at + later)
    assert one.level == pytest.approx(other.level, abs=1e-5)
    assert held.playback.cue == plain.playback.cue


def test_a_held_desk_rests_and_awaits_nothing() -> None:
    desk = fading().do(1.0, Hold())
    assert desk.playback.held
    assert not desk.moving(2.0)
    assert next_event(desk.playback) is None
    assert not desk.do(2.0, Hold()).playback.held


def test_blackout_master_and_countdown_work_while_held() -> None:
    desk = fading().do(5.0, Hold(), Master(level=0.5))
    assert desk.level(5.0, "key") == pytest.approx(0.25)
    desk.do(6.0, Countdown(seconds=2.0, command=Blackout(on=True)))
    assert desk.level(8.0, "key") == pytest.approx(0.25)
    assert desk.level(9.0, "key") == 0.0


def test_a_change_by_hand_shows_at_once_while_held() -> None:
    desk = fading().do(5.0, Hold(), SetLight(fixtures=("key",), level=0.9))
    assert desk.level(5.0, "key") == 0.9


def test_running_a_cue_releases_the_hold() -> None:
    desk = fading().do(5.0, Hold()).do(9.0, Recall(cue="1", fade_s=1.0))
    assert not desk.playback.held
    assert desk.level(9.0, "key") == pytest.approx(0.5)
    assert desk.level(10.0, "key") == 1.0
