"""Countdown: a command after some seconds, visible, cancellable."""

from __future__ import annotations

import pytest

from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.running import Go, Recall
from onecrew.commands.takes import TakeStart
from onecrew.errors import Refused
from onecrew.playback.events import next_event
from onecrew.playback.render import countdown_state
from tests.playback.stage import Stage, cue, stage


def desk() -> Stage:
    return stage(("key",), [cue("1", {"key": 1.0}), cue("2", {"key": 0.5})])


def test_it_runs_its_command_at_its_moment() -> None:
    room = desk().do(10.0, Countdown(seconds=5.0))
    state = countdown_state(room.playback, 12.0)
    assert state is not None
    assert (state.left_s, state.command) == (3.0, "go")
    assert next_event(room.playback) == 15.0
    assert room.frame(14.99) and room.playback.cue is None
    assert room.level(16.0, "key") == pytest.approx(0.5)
    assert countdown_state(room.playback, 16.0) is None


def test_a_late_engine_starts_the_fade_where_it_should_have_begun() -> None:
    assert desk().do(10.0, Countdown(seconds=5.0)).level(16.5, "key") == pytest.approx(0.75)


def test_it_can_be_cancelled_and_then_nothing_happens() -> None:
    room = desk().do(10.0, Countdown(seconds=5.0)).do(14.0, CancelCountdown())
    assert room.level(60.0, "key") == 0.0
    with pytest.raises(Refused, match="no countdown is running"):
        room.do(61.0, CancelCountdown())


def test_a_second_countdown_takes_the_place_of_the_first() -> None:
    room = desk().do(0.0, Countdown(seconds=5.0)).do(1.0, Countdown(seconds=9.0, command=Recall(cue="2")))
    assert room.frame(6.0) and room.playback.cue is None
    assert room.frame(10.0) and room.playback.cue == "2"


def test_it_says_in_words_what_it_will_do() -> None:
    room = desk().do(0.0, Countdown(seconds=5.0, command=TakeStart(chain_from="2")))
    state = countdown_state(room.playback, 0.0)
    assert state is not None and state.command == "start a take from cue 2"


def test_a_command_that_is_refused_in_the_end_leaves_a_remark() -> None:
    room = desk().do(0.0, Recall(cue="2"), Countdown(seconds=1.0, command=Go()))
    room.frame(2.0)
    assert room.playback.remark == "countdown to go: cue 2 is the last: there is no cue after it"


@pytest.mark.parametrize("command", [Recall(cue="9"), TakeStart(chain_from="9")])
def test_one_that_could_not_be_carried_out_is_refused_at_once(command: Recall | TakeStart) -> None:
    room = desk()
    with pytest.raises(Refused, match="there is no cue 9 in this scene; it has"):
        room.do(0.0, Countdown(seconds=5.0, command=command))
    assert room.playback.countdown is None
