"""One lamp alone for a still: above everything but the blackout, and gone as soon as nobody asks for it."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import Identify, Revert, SetLight, Solo, Without
from onecrew.commands.running import Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.stills import KEPT_S, ShowStill
from onecrew.commands.takes import TakeStart
from onecrew.errors import Refused
from onecrew.playback.codec import from_json, to_json
from onecrew.playback.events import next_event
from tests.playback.stage import Stage, cue, same_frame, stage

LAMPS = {"window": "linear", "pendant": "square", "oven": "log", "edge": "table"}
LOOK = {"window": {"level": 0.4, "white": {"cct_k": 3400}}, "pendant": 0.6, "oven": 0.5}


def kitchen() -> Stage:
    return stage(LAMPS, [cue("1", LOOK), cue("2", {"edge": 0.8})]).do(0.0, Recall(cue="1", fade_s=0.0))


@pytest.mark.parametrize("name", LAMPS)
@given(output=st.floats(0.001, 1.0))
def test_one_lamp_alone_gives_that_share_of_its_light(name: str, output: float) -> None:
    desk = kitchen().do(1.0, Master(level=0.3), ShowStill(fixture=name, output=output, cct_k=2700, duv=0.003))
    frame = desk.frame(1.0)
    lamp = list(LAMPS).index(name)
    gives = desk.compiled.laws.output(frame.level)
    assert gives[lamp] == pytest.approx(output, abs=1e-9)
    assert np.count_nonzero(frame.level) == 1
    assert frame.white[lamp] and frame.mired[lamp] == pytest.approx(1e6 / 2700) and frame.duv[lamp] == 0.003


def test_dark_is_every_lamp_out() -> None:
    assert not kitchen().do(1.0, ShowStill()).frame(1.0).level.any()


def test_it_ends_when_nobody_asks_for_it_and_the_look_is_as_it_was() -> None:
    desk, plain = kitchen(), kitchen()
    desk.do(1.0, ShowStill(fixture="edge")).do(2.0, ShowStill(fixture="edge", again=True))
    assert next_event(desk.playback) == 2.0 + KEPT_S
    assert np.count_nonzero(desk.frame(2.0 + KEPT_S - 1e-6).level) == 1
    assert same_frame(desk.frame(2.0 + KEPT_S), plain.frame(2.0 + KEPT_S))
    assert to_json(desk.playback) == to_json(plain.playback)


def test_off_gives_the_light_back_at_once() -> None:
    desk = kitchen().do(1.0, ShowStill(fixture="edge"), ShowStill(off=True))
    assert same_frame(desk.frame(1.0), kitchen().frame(1.0))


@pytest.mark.parametrize(
    "command",
    [Go(), Recall(cue="2"), SetLight(fixtures=("oven",), level=1.0), Revert(), Solo(), Without(),
     Master(level=0.5), Identify(), TakeStart()],
    ids=lambda command: command.kind,
)  # fmt: skip
def test_what_changes_the_light_ends_it(command: Any) -> None:
    desk = kitchen().do(1.0, ShowStill(fixture="edge"), command)
    assert desk.playback.still is None
    with pytest.raises(Refused, match="the still is over"):
        desk.do(1.1, ShowStill(fixture="edge", again=True))


def test_a_countdown_that_runs_out_ends_it() -> None:
    desk = kitchen().do(1.0, Countdown(seconds=1.0, command=Go()), ShowStill(fixture="edge"))
    desk.frame(1.9)
    assert desk.playback.still is not None
    desk.frame(2.1)
    assert desk.playback.still is None and desk.playback.cue == "2"


def test_an_auto_follow_ends_it() -> None:
    cues = [cue("1", LOOK, auto_follow_s=2.0), cue("2", {"edge": 0.8}, fade={"in_s": 0.0, "out_s": 0.0})]
    desk = stage(LAMPS, cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(1.0, ShowStill(fixture="oven"))
    assert np.flatnonzero(desk.frame(1.9).level).tolist() == [2]
    assert np.flatnonzero(desk.frame(2.1).level).tolist() == [3]


@pytest.mark.parametrize("command", [Hold(on=True), Lock(on=True), Blackout(on=True)])
def test_what_does_not_change_the_look_leaves_it(command: Any) -> None:
    assert kitchen().do(1.0, ShowStill(fixture="edge"), command).playback.still is not None


def test_a_blackout_blacks_it_out_and_none_begins_in_it() -> None:
    desk = kitchen().do(1.0, ShowStill(fixture="edge"), Blackout(on=True))
    assert not desk.frame(2.0).level.any()
    with pytest.raises(Refused, match="blacked out"):
        desk.do(2.0, ShowStill(fixture="oven"))


def test_a_lock_keeps_what_shows_however_long() -> None:
    desk = kitchen().do(1.0, ShowStill(fixture="edge"), Lock(on=True))
    with pytest.raises(Refused, match="locked"):
        desk.do(1.1, ShowStill(fixture="oven"))
    with pytest.raises(Refused, match="locked"):
        desk.do(1.1, ShowStill(off=True))
    desk.do(2.0, ShowStill(fixture="edge", again=True))
    assert desk.frame(60.0).level[3] == 1.0
    desk.do(61.0, Lock(on=False))
    assert same_frame(desk.frame(61.0), kitchen().do(61.0).frame(61.0))


def test_none_begins_while_locked_or_in_a_take() -> None:
    for command in (Lock(on=True), TakeStart()):
        desk = kitchen().do(1.0, command)
        with pytest.raises(Refused):
            desk.do(1.1, ShowStill(fixture="edge"))


def test_a_lamp_that_is_not_there_is_refused() -> None:
    with pytest.raises(Refused, match="there is no fixture stove"):
        kitchen().do(1.0, ShowStill(fixture="stove"))


def test_live_state_from_before_there_were_stills_is_read() -> None:
    desk = kitchen()
    data = json.loads(json.dumps(to_json(desk.playback)))
    assert "still" not in data and from_json(data, desk.compiled).still is None
