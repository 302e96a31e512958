"""Blackout with its own short fade, master, and the fade to black before the end."""

from __future__ import annotations

import pytest

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import Identify
from onecrew.commands.running import Blackout, Go, Lock, Master, Recall
from onecrew.playback.events import BLACKOUT_FADE_S, fade_away, next_event
from tests.playback.stage import Stage, cue, stage


def lit() -> Stage:
    cues = [
        cue("1", {"key": 0.8, "fill": 0.4}, auto_follow_s=60.0),
        cue("2", {"key": 0.2}, fade={"out_s": 10.0}),
    ]
    return stage(("key", "fill"), cues).do(0.0, Recall(cue="1", fade_s=0.0))


def test_blackout_takes_everything_down_by_its_own_fade_and_back() -> None:
    desk = lit().do(10.0, Blackout())
    assert desk.playback.dark
    assert desk.level(10.0, "key") == pytest.approx(0.8)
    assert desk.level(10.0 + BLACKOUT_FADE_S / 2, "key") == pytest.approx(0.4)
    assert desk.frame(10.0 + BLACKOUT_FADE_S).level.tolist() == [0.0, 0.0]
    desk.do(20.0, Blackout())
    assert desk.frame(20.0 + BLACKOUT_FADE_S).level.tolist() == [0.8, 0.4]


def test_a_fade_goes_on_under_a_blackout() -> None:
    desk = lit().do(10.0, Go()).do(11.0, Blackout(on=True)).do(14.0, Blackout(on=False))
    assert desk.level(15.0, "key") == pytest.approx(0.5)  # half of the ten seconds from 0.8 to 0.2


def test_master_scales_every_level_at_once() -> None:
    desk = lit().do(10.0, Master(level=0.25))
    assert desk.frame(10.0).level.tolist() == pytest.approx([0.2, 0.1])
    assert float(desk.playback.master.goal) == 0.25
    assert desk.do(11.0, Master(level=1.0)).frame(11.0).level.tolist() == [0.8, 0.4]


def test_asking_twice_for_the_same_changes_nothing() -> None:
    desk = lit().do(10.0, Blackout(on=True))
    before = desk.playback
    assert desk.do(12.0, Blackout(on=True)).playback is before


def test_the_fade_to_black_before_the_end_wins_over_everything() -> None:
    desk = lit().do(1.0, Countdown(seconds=5.0, command=Go()), Identify(fixtures=("fill",)), Lock(on=True))
    desk.playback = fade_away(desk.playback, 2.0, 4.0, desk.compiled)
    assert next_event(desk.playback) is None
    assert desk.level(4.0, "key") == pytest.approx(0.4)
    assert desk.frame(6.0).level.tolist() == [0.0, 0.0]
