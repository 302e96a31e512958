"""Lock: nothing changes the light but unlock and blackout."""

from __future__ import annotations

import pytest

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.light import Compare, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from tests.playback.stage import Stage, cue, stage


def locked() -> Stage:
    cues = [cue("1", {"key": 0.5}, auto_follow_s=10.0), cue("2", {"key": 0.9}), cue("3", {})]
    return stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0), Lock(on=True))


@pytest.mark.parametrize(
    "command",
    [
        Go(),
        Back(),
        Recall(cue="2"),
        Hold(),
        Master(level=0.1),
        SetLight(fixtures=("key",), level=1.0),
        Revert(),
        Compare(),
        Solo(fixtures=("key",)),
        Without(fixtures=("key",)),
        Identify(fixtures=("key",)),
        Countdown(seconds=1.0, command=Go()),
        TakeStart(chain_from="1"),
    ],
    ids=lambda command: command.kind,
)
def test_what_changes_light_is_refused_in_a_sentence(command: PlaybackCommand) -> None:
    desk = locked()
    before = desk.playback
    with pytest.raises(Refused, match="the light is locked"):
        desk.do(1.0, command)
    assert desk.playback is before
    assert desk.level(1.0, "key") == 0.5


def test_blackout_works_both_ways_and_takes_are_marked() -> None:
    desk = locked().do(1.0, Blackout()).do(2.0, Blackout(), TakeStart()).do(4.0, TakeEnd())
    assert desk.level(4.0, "key") == 0.5
    assert desk.playback.locked
    assert not desk.do(5.0, Lock()).playback.locked


def test_an_auto_follow_waits_and_goes_on_when_the_lock_is_opened() -> None:
    desk = locked()
    assert desk.level(30.0, "key") == 0.5
    assert desk.playback.cue == "1"
    desk.do(40.0, Lock(on=False))
    assert desk.level(40.0, "key") == 0.5  # its fade begins now, not when it was due
    assert desk.level(45.0, "key") == 0.9
    assert desk.playback.cue == "2"


def test_an_auto_follow_whose_time_has_not_come_is_not_moved_by_a_lock() -> None:
    desk = locked().do(5.0, Lock(on=False))
    assert desk.level(9.9, "key") == 0.5
    assert desk.playback.cue == "1"
    assert desk.level(15.0, "key") == 0.9


def test_a_fade_that_runs_already_goes_on_under_the_lock() -> None:
    desk = stage(("key",), [cue("1", {"key": 0.5})]).do(0.0, Recall(cue="1", fade_s=4.0), Lock(on=True))
    assert desk.level(4.0, "key") == 0.5


def test_a_countdown_that_ends_under_the_lock_is_refused_and_says_so() -> None:
    desk = stage(("key",), [cue("1", {"key": 0.5})]).do(0.0, Countdown(seconds=3.0), Lock(on=True))
    assert desk.level(5.0, "key") == 0.0
    assert desk.playback.cue is None
    assert desk.playback.countdown is None
    assert "countdown to go" in desk.playback.remark
    assert "locked" in desk.playback.remark
    assert desk.do(6.0, Lock(on=False)).playback.remark == ""


def test_a_countdown_can_be_cancelled_or_end_in_a_blackout_under_the_lock() -> None:
    desk = locked().do(0.0, Countdown(seconds=2.0, command=Blackout(on=True)))
    assert desk.level(3.0, "key") == 0.0
    desk.do(4.0, Countdown(seconds=2.0, command=Blackout(on=False)), CancelCountdown())
    assert desk.level(9.0, "key") == 0.0
