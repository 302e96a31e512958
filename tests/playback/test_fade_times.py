"""Fades: in and out times, curves, exact ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.running import Go, Recall
from tests.playback.stage import Stage, cue, stage

LAWS = ("linear", "square", "log", "table")


def two_cues(**fade: object) -> Stage:
    looks = ({"rises": 0.2, "falls": 0.9, "stays": 0.4}, {"rises": 0.8, "falls": 0.1, "stays": 0.4})
    cues = [cue("1", looks[0]), cue("2", looks[1], fade=fade)]
    return stage(("rises", "falls", "stays"), cues).do(0.0, Recall(cue="1", fade_s=0.0))


def test_levels_that_rise_take_in_s_and_levels_that_fall_out_s() -> None:
    desk = two_cues(in_s=2.0, out_s=4.0).do(10.0, Go())
    assert desk.level(11.0, "rises") == pytest.approx(0.5)
    assert desk.level(11.0, "falls") == pytest.approx(0.7)
    assert desk.level(12.0, "rises") == 0.8
    assert desk.level(12.0, "falls") == pytest.approx(0.5)
    assert desk.level(14.0, "falls") == 0.1
    assert {desk.level(t, "stays") for t in (10.0, 11.0, 13.0, 20.0)} == {0.4}


def test_colour_takes_the_longer_time() -> None:
    cues = [
        cue("1", {"key": {"level": 0.2, "white": {"cct_k": 2000}}}),
        cue("2", {"key": {"level": 0.8, "white": {"cct_k": 5000}}}, fade={"in_s": 1.0, "out_s": 4.0}),
    ]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(10.0, Go())
    assert desk.level(11.0, "key") == 0.8
    assert desk.frame(12.0).mired[0] == pytest.approx(350.0)  # half way from 500 to 200 mired after 2 of 4 s
    assert desk.frame(14.0).mired[0] == 200.0


def test_a_recall_with_its_own_time_overrides_in_and_out() -> None:
    desk = two_cues(in_s=50.0, out_s=80.0).do(10.0, Recall(cue="2", fade_s=2.0))
    assert desk.level(11.0, "rises") == pytest.approx(0.5)
    assert desk.level(11.0, "falls") == pytest.approx(0.5)
    assert desk.level(12.0, "falls") == 0.1


def test_a_fade_of_no_time_is_there_at_once() -> None:
    desk = two_cues(in_s=0.0, out_s=0.0).do(10.0, Go())
    assert desk.frame(10.0).level.tolist() == [0.8, 0.1, 0.4]


# Smoothstep 3x² − 2x³, values of the table of transfer curves (arithmetic).
@pytest.mark.parametrize(("x", "y"), [(0.1, 0.028), (0.25, 0.15625), (0.5, 0.5), (0.7, 0.784), (0.9, 0.972)])
def test_ease_is_smoothstep(x: float, y: float) -> None:
    cues = [cue("1", {}), cue("2", {"key": 1.0}, fade={"in_s": 10.0, "out_s": 10.0, "curve": "ease"})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(0.0, Go())
    assert desk.level(10.0 * x, "key") == pytest.approx(y, abs=1e-6)


@pytest.mark.parametrize("law", LAWS)
def test_the_stops_curve_loses_equal_stops_in_equal_times(law: str) -> None:
    cues = [cue("1", {"key": 1.0}), cue("2", {}, fade={"in_s": 11.0, "out_s": 11.0, "curve": "stops"})]
    desk = stage({"key": law}, cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(0.0, Go())
    output = desk.outputs(range(11))[:, 0]
    if law == "log":
        output = output[:10]  # this law ends at 0.1 %, a little above the floor of the curve
    # Ten stops from full down to 1/1024, one a second (factor 2 each: the definition of a stop).
    assert output[:10] == pytest.approx(0.5 ** np.arange(10), rel=1e-5)
    assert desk.level(11.0, "key") == 0.0


def test_the_last_stop_runs_straight_into_black() -> None:
    cues = [cue("1", {"key": 1.0}), cue("2", {}, fade={"in_s": 11.0, "out_s": 11.0, "curve": "stops"})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(0.0, Go())
    floor = 2.0**-10
    assert desk.outputs((10.0, 10.25, 10.5, 10.75))[:, 0] == pytest.approx(
        floor * np.array([1.0, 0.75, 0.5, 0.25]), rel=1e-4
    )


level = st.floats(0.0, 1.0)
seconds = st.sampled_from((0.0, 0.05, 0.3, 1.7, 60.0))


@settings(max_examples=80, deadline=None)
@given(
    start=level,
    goal=level,
    law=st.sampled_from(LAWS),
    curve=st.sampled_from(("linear", "ease", "stops")),
    in_s=seconds,
    out_s=seconds,
    at=st.floats(0.0, 1e6),
)
def test_every_fade_runs_one_way_between_its_ends_and_ends_exactly(
    start: float, goal: float, law: str, curve: str, in_s: float, out_s: float, at: float
) -> None:
    cues = [
        cue("1", {"key": start}),
        cue("2", {"key": goal}, fade={"in_s": in_s, "out_s": out_s, "curve": curve}),
    ]
    desk = stage({"key": law}, cues, at).do(at, Recall(cue="1", fade_s=0.0))
    desk.do(at, Go())
    span = in_s if goal > start else out_s
    path = desk.levels(at + span * np.linspace(0.0, 1.0, 41))[:, 0]
    steps = np.diff(path) * np.sign(goal - start)
    assert (steps >= -1e-12).all()
    assert path.min() >= min(start, goal) - 1e-12
    assert path.max() <= max(start, goal) + 1e-12
    assert desk.level(at + span, "key") == goal
    assert desk.level(at + span + 1.0, "key") == goal
    if span:
        assert path[0] == start
