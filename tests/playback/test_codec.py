"""Resume: the playback as data and back, bit for bit, in the middle of whatever is going on."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import Compare, Identify, SetLight, Solo, Without
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.stills import ShowStill
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.playback.codec import from_json, to_json
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.edits import edited
from onecrew.playback.render import auto_follow_left_s, countdown_state, look_of
from onecrew.playback.state import begin
from onecrew.show.light import Effect
from tests.playback.stage import PROFILES, Stage, cue, same_frame, show_of, stage

LAMPS = {"window": "linear", "pendant": "square", "oven": "log", "edge": "table"}


def bakery() -> Stage:
    flame = {"level": 0.7, "white": {"cct_k": 2100}, "effect": {"kind": "flame", "depth": 0.8, "seed": 7}}
    tv = {"level": 0.8, "xy": (0.6, 0.35), "effect": {"kind": "television", "rate": 3.0}}
    cues = [
        cue("1", {"window": {"level": 0.9, "white": {"cct_k": 5600}}, "oven": flame}, auto_follow_s=1.3),
        cue("2", {"window": {"level": 0.1, "xy": (0.2, 0.1)}, "pendant": 0.6, "oven": tv}, delay_s=0.4),
        cue("3", {"edge": 0.8}, fade={"in_s": 1.0, "out_s": 3.0, "curve": "stops"}),
    ]
    return stage(LAMPS, cues)


def through_json(desk: Stage) -> Stage:
    text = json.dumps(to_json(desk.playback))
    return Stage(desk.compiled, from_json(json.loads(text), desk.compiled), desk.show)


lamps = st.lists(st.sampled_from(tuple(LAMPS)), min_size=1, max_size=2).map(tuple)
effect = st.builds(
    Effect, kind=st.sampled_from(("lightning", "failing-tube")), seed=st.integers(0, 2**31 - 1)
)
command: st.SearchStrategy[Any] = st.one_of(
    st.builds(Go),
    st.builds(Back),
    st.builds(Recall, cue=st.sampled_from(("1", "2", "3")), fade_s=st.sampled_from((None, 0.0, 0.7))),
    st.builds(Hold),
    st.builds(Blackout),
    st.builds(Lock),
    st.builds(Master, level=st.floats(0.0, 1.0)),
    st.builds(SetLight, fixtures=lamps, level=st.floats(0.0, 1.0), fade_s=st.sampled_from((0.0, 1.0))),
    st.builds(SetLight, fixtures=lamps, cct_k=st.floats(1000.0, 25000.0), effect=effect),
    st.builds(Compare),
    st.builds(Solo, fixtures=lamps),
    st.builds(Without, fixtures=lamps),
    st.builds(Identify, fixtures=lamps),
    st.builds(Countdown, seconds=st.floats(0.0, 3.0), command=st.sampled_from((Go(), Recall(cue="3")))),
    st.builds(TakeStart, chain_from=st.sampled_from((None, "1"))),
    st.builds(TakeEnd, good=st.booleans()),
    st.builds(ShowStill, fixture=st.sampled_from((None, *LAMPS)), cct_k=st.sampled_from((None, 3200.0))),
)


@settings(max_examples=80, deadline=None)
@given(
    steps=st.lists(st.tuples(st.floats(0.0, 1.5), command), max_size=10),
    later=st.lists(st.floats(0.0, 4.0), min_size=1, max_size=4),
    start=st.floats(0.0, 1e6),
)
def test_what_goes_on_is_the_same_frame_for_frame(
    steps: list[tuple[float, Any]], later: list[float], start: float
) -> None:
    desk, now = bakery(), start
    for wait_s, command in steps:
        now += wait_s
        try:
            desk.do(now, command)
        except Refused:
            continue
    twin = through_json(desk)
    for wait_s in sorted(later):
        at = now + wait_s
        assert same_frame(twin.frame(at), desk.frame(at))
        assert to_json(twin.playback) == to_json(desk.playback)
        assert look_of(twin.playback, at, twin.compiled) == look_of(desk.playback, at, desk.compiled)
        assert edited(twin.playback, twin.compiled) == edited(desk.playback, desk.compiled)
        assert twin.moving(at) == desk.moving(at)
        assert countdown_state(twin.playback, at) == countdown_state(desk.playback, at)
        assert auto_follow_left_s(twin.playback, at) == auto_follow_left_s(desk.playback, at)
        assert twin.playback.take == desk.playback.take


def test_a_rig_that_changed_meanwhile_keeps_the_light_of_the_lamps_it_still_has() -> None:
    desk = bakery().do(0.0, Recall(cue="2", fade_s=0.0)).do(0.4, SetLight(fixtures=("edge",), level=0.3))
    data = json.loads(json.dumps(to_json(desk.playback)))
    show = show_of({"new": "linear", "edge": "table", "pendant": "square"}, [])
    compiled = compile_show(show, PROFILES)
    twin = Stage(compiled, from_json(data, compiled), show)
    assert twin.frame(5.0).level.tolist() == [0.0, 0.3, 0.6]


def test_it_is_small() -> None:
    looks = [{f"l{place}": (place + number) / 80 for place in range(64)} for number in range(2)]
    desk = stage(
        [f"l{place}" for place in range(64)], [cue(str(i + 1), look) for i, look in enumerate(looks)]
    )
    desk.do(0.0, Recall(cue="1", fade_s=0.0)).do(1.0, Go())
    assert len(json.dumps(to_json(desk.playback))) < 32_000  # bytes, 64 lamps in the middle of a fade


def test_an_empty_rig_resumes_too() -> None:
    desk = stage((), [cue("1", {})]).do(0.0, Go())
    assert through_json(desk).frame(1.0).level.shape == (0,)


@pytest.mark.parametrize("spoil", [{"format": 99}, {"rows": ["", "", ""]}, {"asked": None}])
def test_foreign_data_is_an_error_and_never_a_wrong_light(spoil: dict[str, Any]) -> None:
    desk = bakery()
    with pytest.raises((ValueError, KeyError, TypeError)):
        from_json({**to_json(begin(desk.compiled, 0.0)), **spoil}, desk.compiled)
