"""Colour on its way: whites along the locus, everything else straight in CIE 1976 u′v′."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.light import SetLight
from onecrew.commands.running import Go, Recall
from tests.playback.stage import Stage, cue, stage


def between(one: dict[str, object], other: dict[str, object]) -> Stage:
    """A lamp ten seconds from going from one light to another."""
    cues = [cue("1", {"key": one}), cue("2", {"key": other}, fade={"in_s": 10.0, "out_s": 10.0})]
    return stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(0.0, Go())


def test_white_to_white_is_linear_in_mired_and_duv() -> None:
    desk = between(
        {"level": 0.5, "white": {"cct_k": 2800, "duv": 0.004}},
        {"level": 0.5, "white": {"cct_k": 5600, "duv": -0.002}},
    )
    # 10⁶/2800 = 357.143 and 10⁶/5600 = 178.571 mired; half way 267.857 mired = 3733.3 K (arithmetic).
    frame = desk.frame(5.0)
    assert frame.white.tolist() == [True]
    assert 1e6 / frame.mired[0] == pytest.approx(3733.333, abs=0.01)
    assert frame.duv[0] == pytest.approx(0.001, abs=1e-9)


def test_anything_with_an_xy_moves_straight_in_uv() -> None:
    red, blue = (0.64, 0.33), (0.15, 0.06)
    desk = between({"level": 0.5, "xy": red}, {"level": 0.5, "xy": blue})
    # u′v′ of the ends computed by colour-science.
    ends = colour.xy_to_Luv_uv(np.array([red, blue]))
    for share in (0.25, 0.5, 0.8):
        frame = desk.frame(10.0 * share)
        assert not frame.white[0]
        wanted = ends[0] + share * (ends[1] - ends[0])
        assert [frame.u[0], frame.v[0]] == pytest.approx(wanted.tolist(), abs=1e-6)


def test_white_to_colour_moves_straight_in_uv_too() -> None:
    desk = between({"level": 0.5, "white": {"cct_k": 3200}}, {"level": 0.5, "xy": (0.15, 0.06)})
    # Planckian 3200 K is xy (0.42336, 0.39901), computed by colour-science from CIE 1931 2° at 1 nm.
    ends = colour.xy_to_Luv_uv(np.array([(0.42336, 0.39901), (0.15, 0.06)]))
    frame = desk.frame(4.0)
    assert [frame.u[0], frame.v[0]] == pytest.approx((ends[0] + 0.4 * (ends[1] - ends[0])).tolist(), abs=2e-5)
    assert desk.frame(0.0).white[0]
    assert not desk.frame(10.0).white[0]


def test_a_lamp_that_rises_from_black_has_its_new_colour_at_once() -> None:
    desk = between({"level": 0.0, "white": {"cct_k": 2800}}, {"level": 0.8, "white": {"cct_k": 6500}})
    for now in (0.0, 0.01, 5.0, 10.0):
        assert 1e6 / desk.frame(now).mired[0] == pytest.approx(6500.0)


def test_a_lamp_that_falls_to_black_keeps_its_old_colour() -> None:
    desk = between({"level": 0.8, "white": {"cct_k": 2800}}, {"level": 0.0, "white": {"cct_k": 6500}})
    for now in (0.0, 5.0, 9.99, 10.0):
        assert 1e6 / desk.frame(now).mired[0] == pytest.approx(2800.0)
    desk.do(20.0, SetLight(fixtures=("key",), level=0.5))  # lit again, it is as the black cue had it
    assert 1e6 / desk.frame(20.0).mired[0] == pytest.approx(6500.0)


def test_a_lamp_that_a_look_does_not_name_keeps_its_colour_into_black() -> None:
    cues = [cue("1", {"key": {"level": 0.8, "xy": (0.64, 0.33)}}), cue("2", {})]
    desk = stage(("key",), cues).do(0.0, Recall(cue="1", fade_s=0.0))
    before = desk.frame(0.0)
    desk.do(1.0, Go())
    assert (desk.frame(2.0).u[0], desk.frame(2.0).v[0]) == (before.u[0], before.v[0])


cct = st.floats(1000.0, 25000.0)
duv = st.floats(-0.05, 0.05)


@settings(max_examples=60, deadline=None)
@given(cct, duv, cct, duv, st.floats(0.0, 1.0))
def test_whites_never_leave_the_span_between_their_ends_and_end_exactly(
    from_k: float, from_duv: float, to_k: float, to_duv: float, share: float
) -> None:
    desk = between(
        {"level": 0.5, "white": {"cct_k": from_k, "duv": from_duv}},
        {"level": 0.6, "white": {"cct_k": to_k, "duv": to_duv}},
    )
    frame = desk.frame(10.0 * share)
    low, high = sorted((1e6 / from_k, 1e6 / to_k))
    assert low - 1e-9 <= frame.mired[0] <= high + 1e-9
    assert min(from_duv, to_duv) - 1e-12 <= frame.duv[0] <= max(from_duv, to_duv) + 1e-12
    end = desk.frame(10.0)
    assert (end.mired[0], end.duv[0], end.level[0]) == (1e6 / to_k, to_duv, 0.6)
