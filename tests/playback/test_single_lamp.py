"""The short way of a level set by hand on one lamp at rest leads to the same playback as the full way."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from hypothesis import event, given, settings
from hypothesis import strategies as st

from onecrew.commands.light import Compare, Identify, SetLight, Solo, Without
from onecrew.commands.running import Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.stills import ShowStill
from onecrew.errors import Refused
from onecrew.playback.codec import to_json
from onecrew.playback.edits import set_in_full, set_light
from onecrew.playback.events import apply, apply_at_once
from onecrew.playback.render import single_level
from onecrew.playback.single_lamp import can_move_single
from onecrew.show.light import Effect
from tests.playback.stage import Stage, cue, same_frame, stage

LAMPS = {"window": "linear", "pendant": "square", "oven": "log", "edge": "table"}


def kitchen() -> Stage:
    lit = {name: {"level": 0.2 + 0.2 * place} for place, name in enumerate(LAMPS)}
    white = {"level": 0.6, "white": {"cct_k": 3400}}
    cues = [
        cue("1", lit),
        cue("2", {**lit, "window": white, "pendant": {"level": 0.5, "xy": (0.3, 0.4)}}),
        cue("3", {"window": white, "edge": 0.9}, fade={"in_s": 0.5, "out_s": 1.0, "curve": "stops"}),
    ]
    return stage(LAMPS, cues)


lamps = st.lists(st.sampled_from(tuple(LAMPS)), min_size=1, max_size=2).map(tuple)
one = st.sampled_from(tuple(LAMPS)).map(lambda name: (name,))
level = st.sampled_from((0.0, 0.004, 0.2, 0.5, 1.0)) | st.floats(0.0, 1.0)
fade_s = st.sampled_from((0.0, 0.3, 2.0))
by_hand = st.one_of(
    st.builds(SetLight, fixtures=one, level=level, fade_s=fade_s),
    st.builds(SetLight, fixtures=one, level_by=st.floats(-1.0, 1.0), fade_s=fade_s),
    st.builds(SetLight, fixtures=one, stops_by=st.floats(-3.0, 3.0), fade_s=fade_s),
)
before: st.SearchStrategy[Any] = st.one_of(
    by_hand,
    st.builds(Recall, cue=st.sampled_from(("1", "2", "3")), fade_s=st.sampled_from((None, 0.0, 0.7))),
    st.builds(Go),
    st.builds(Hold),
    st.builds(Blackout),
    st.builds(Compare),
    st.builds(Master, level=st.floats(0.0, 1.0)),
    st.builds(SetLight, fixtures=lamps, level=level, cct_k=st.floats(1000.0, 25000.0)),
    st.builds(SetLight, fixtures=lamps, effect=st.builds(Effect, kind=st.just("flame"))),
    st.builds(SetLight, fixtures=lamps, effect=st.just("none")),
    st.builds(Solo, fixtures=lamps),
    st.builds(Without, fixtures=lamps),
    st.builds(Identify, fixtures=lamps),
)
ends = st.builds(ShowStill, fixture=st.none() | st.sampled_from(tuple(LAMPS))) | st.builds(Lock)
wait_s = st.sampled_from((0.1, 1.0, 5.0, 60.0)) | st.floats(0.0, 3.0)


@settings(max_examples=150, deadline=None)
@given(
    start=st.floats(0.0, 1e6),
    steps=st.lists(st.tuples(wait_s, before), max_size=8),
    wait=wait_s,
    command=by_hand,
    later=st.lists(st.floats(0.0, 3.0), min_size=1, max_size=4),
)
def test_law_the_short_way_leads_where_the_full_one_does(
    start: float, steps: list[tuple[float, Any]], wait: float, command: SetLight, later: list[float]
) -> None:
    desk, now = kitchen().do(start, Recall(cue="1", fade_s=0.0)), start
    for pause, step in steps:
        now += pause
        try:
            desk.do(now, step)
        except Refused:
            continue
    now += wait
    desk.frame(now)
    places = desk.compiled.lamps(command.fixtures)
    event(f"short: {can_move_single(desk.playback, places[0], now)}")
    try:
        full = set_in_full(desk.playback, desk.compiled, command, places, now)
    except Refused:
        return
    short = set_light(desk.playback, desk.compiled, command, now)
    assert to_json(short) == to_json(full)
    assert short.movement.settled_at == full.movement.settled_at
    one, other = Stage(desk.compiled, short, desk.show), Stage(desk.compiled, full, desk.show)
    for pause in sorted(later):
        assert same_frame(one.frame(now + pause), other.frame(now + pause))


@settings(max_examples=150, deadline=None)
@given(
    steps=st.lists(st.tuples(wait_s, before | ends), max_size=3),
    wait=wait_s,
    command=st.builds(SetLight, fixtures=one, level=level),
)
def test_law_what_shows_before_its_playback_is_what_the_command_comes_to(
    steps: list[tuple[float, Any]], wait: float, command: SetLight
) -> None:
    desk, now = kitchen().do(0.0, Recall(cue="1", fade_s=0.0)), 0.0
    for pause, step in steps:
        now += pause
        with suppress(Refused):
            desk.do(now, step)
    now += wait
    desk.frame(now)
    move = apply_at_once(desk.playback, command, now, desk.compiled)
    event(f"at once: {move is not None}")
    if move is not None:
        level = single_level(move, now)
        assert to_json(move.playback) == to_json(apply(desk.playback, command, now, desk.compiled))
        assert level == desk.do(now, command).frame(now).level[move.lamp]


def test_a_level_of_one_lamp_at_rest_goes_the_short_way() -> None:
    desk = kitchen().do(0.0, Recall(cue="1", fade_s=0.0))
    assert can_move_single(desk.playback, 0, 1.0)
    desk.do(1.0, SetLight(fixtures=("window",), level=0.7))
    assert can_move_single(desk.playback, 0, 1.1)


def test_what_moves_more_than_a_level_does_not() -> None:
    desk = kitchen().do(0.0, Recall(cue="3", fade_s=0.0))
    assert not can_move_single(desk.playback, 1, 9.0)  # at black: the colour comes with the level
    assert not can_move_single(desk.do(9.0, Recall(cue="1", fade_s=2.0)).playback, 0, 9.1)  # a fade runs
    flame = SetLight(fixtures=("edge",), effect=Effect(kind="flame"))
    assert not can_move_single(desk.do(20.0, flame).playback, 0, 30.0)  # an effect plays
