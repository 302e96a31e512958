"""Fades leave from what shows now, and no command ever makes the light jump that was not asked to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import Compare, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.running import Back, Blackout, Go, Hold, Recall
from onecrew.errors import Refused
from onecrew.playback.lights import Frame, U, lights_of
from onecrew.show.light import Effect
from tests.playback.stage import FloatArray, Stage, cue, stage

LAMPS = {"window": "linear", "pendant": "square", "oven": "log", "edge": "table"}


def bakery() -> Stage:
    def flame(level: float) -> dict[str, object]:
        return {
            "level": level,
            "white": {"cct_k": 2100},
            "effect": {"kind": "flame", "depth": 0.8, "seed": 7},
        }

    cues = [
        cue("1", {"window": {"level": 0.9, "white": {"cct_k": 5600}}, "oven": flame(0.7), "edge": 0.3}),
        cue(
            "2", {"window": {"level": 0.1, "xy": [0.2, 0.1]}, "pendant": 0.6, "oven": flame(0.4)}, delay_s=0.4
        ),
        cue(
            "3",
            {
                "window": {"level": 0.5, "effect": {"kind": "lightning", "depth": 1.0, "rate": 4.0}},
                "oven": {"level": 0.8, "xy": [0.6, 0.35], "effect": {"kind": "television", "rate": 3.0}},
                "pendant": {"level": 0.3, "white": {"cct_k": 2700}, "effect": {"kind": "failing-tube"}},
            },
            fade={"in_s": 1.0, "out_s": 3.0, "curve": "stops"},
        ),
        cue("4", {}, fade={"in_s": 0.5, "out_s": 0.7, "curve": "ease"}),
    ]
    return stage(LAMPS, cues)


def test_a_second_cue_takes_over_in_the_middle_of_a_fade() -> None:
    cues = [cue("1", {"key": 1.0}), cue("2", {}), cue("3", {"key": 0.9})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(10.0, Go()).do(11.0, Go())
    assert desk.level(11.0, "key") == pytest.approx(0.5)
    assert desk.level(12.0, "key") == pytest.approx(0.7)
    assert desk.level(13.0, "key") == 0.9


def chromaticity(frame: Frame) -> FloatArray:
    white = white_to_uv76_fast(frame.mired, frame.duv)
    return np.where(frame.white[:, None], white, np.stack((frame.u, frame.v), axis=1))


lamps = st.lists(st.sampled_from(tuple(LAMPS)), min_size=1, max_size=2).map(tuple)
some_lamps = st.lists(st.sampled_from(tuple(LAMPS)), max_size=2).map(tuple)
on_off = st.sampled_from((True, False, None))
fade = st.sampled_from((0.2, 1.5))
effects = st.builds(
    Effect,
    kind=st.sampled_from(("television", "flame", "headlights", "lightning", "failing-tube")),
    depth=st.just(1.0),
    rate=st.sampled_from((0.5, 4.0)),
    seed=st.integers(0, 9),
)
commands: st.SearchStrategy[PlaybackCommand] = st.one_of(
    st.builds(Go),
    st.builds(Back),
    st.builds(Recall, cue=st.sampled_from(("1", "2", "3", "4"))),
    st.builds(Hold, on=on_off),
    st.builds(Blackout, on=on_off),
    st.builds(SetLight, fixtures=lamps, level=st.floats(0.0, 1.0), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, level_by=st.floats(-0.3, 0.3), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, cct_k=st.floats(2000.0, 9000.0), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, xy=st.just((0.15, 0.06)), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, effect=effects | st.just("none"), fade_s=fade),
    st.builds(Revert, fixtures=some_lamps),
    st.builds(Compare, on=on_off),
    st.builds(Solo, fixtures=some_lamps),
    st.builds(Without, fixtures=some_lamps),
    st.builds(Identify, fixtures=some_lamps),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 1.5), commands), min_size=1, max_size=12))
def test_no_command_makes_the_light_jump(steps: list[tuple[float, PlaybackCommand]]) -> None:
    desk, now = bakery(), 100.0
    for wait_s, command in steps:
        now += wait_s
        before = desk.frame(now)
        if desk.playback.held and isinstance(command, SetLight | Compare | Revert):
            continue  # by hand while held: at once, as asked
        try:
            desk.do(now, command)
        except Refused:
            continue
        after = desk.frame(now)
        assert after.level == pytest.approx(before.level, abs=1e-9)
        lit = before.level > 0.0
        assert chromaticity(after)[lit] == pytest.approx(chromaticity(before)[lit], abs=1e-5)
        # Nor in the next instants: the fastest thing here is a lightning stroke of 30 ms.
        soon = desk.frame(now + 1e-4)
        assert soon.level == pytest.approx(after.level, abs=0.02)
        assert chromaticity(soon)[lit] == pytest.approx(chromaticity(after)[lit], abs=2e-3)


by_hand = st.one_of(
    st.builds(SetLight, fixtures=lamps, level=st.sampled_from((0.0, 0.35)), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, level_by=st.sampled_from((-0.2, 0.2)), fade_s=fade),
    st.builds(SetLight, fixtures=lamps, cct_k=st.just(3200.0), fade_s=fade),
)
numbers = st.sampled_from(("1", "2", "3", "4"))


@settings(max_examples=100, deadline=None)
@given(numbers, numbers, st.lists(st.tuples(st.floats(0.0, 1.5), by_hand), min_size=1, max_size=4))
def test_what_is_asked_of_a_lamp_is_where_it_goes(
    first: str, then: str, steps: list[tuple[float, PlaybackCommand]]
) -> None:
    """What is stored, undone and kept as an edit is the light that shows in the end."""
    desk, now = bakery().do(0.0, Recall(cue=first, fade_s=0.0)).do(100.0, Recall(cue=then)), 100.0
    for wait_s, command in steps:
        now += wait_s
        desk.do(now, command)
        goal = desk.playback.movement.goal
        asked = lights_of(desk.playback.asked, desk.compiled.natural)
        assert goal.level.tolist() == asked.level.tolist()
        lit = asked.level > 0.0  # a lamp that falls to black keeps the colour that it had
        assert goal.white[lit].tolist() == asked.white[lit].tolist()
        assert goal.colour[U:, lit] == pytest.approx(asked.colour[U:, lit], abs=1e-6)
