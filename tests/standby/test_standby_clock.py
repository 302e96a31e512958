"""The clock of the other machine: never further off than half the quickest round trip (RFC 5905 §8)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.standby.clock import STEP_S, StandbyClock

DELAY_S = st.floats(min_value=0.0, max_value=0.5)


@settings(max_examples=80)
@given(
    ahead_s=st.floats(min_value=-1e6, max_value=1e6),
    trips=st.lists(st.tuples(DELAY_S, DELAY_S), min_size=1, max_size=40),
)
def test_the_estimate_is_off_by_half_the_quickest_round_trip_at_most(
    ahead_s: float, trips: list[tuple[float, float]]
) -> None:
    clock, now = StandbyClock(), 100.0
    for out_s, back_s in trips:
        clock.take(now, now + out_s + ahead_s, now + out_s + back_s)
        now += 0.5
    quickest = min(out_s + back_s for out_s, back_s in trips[-16:])
    assert clock.ahead_s is not None
    assert abs(clock.ahead_s - ahead_s) <= quickest / 2 + STEP_S + 1e-6


def test_equal_ways_there_and_back_cancel_out() -> None:
    clock = StandbyClock()
    assert clock.take(10.0, 52.05, 10.1)
    assert clock.ahead_s == pytest.approx(42.0)


def test_a_better_answer_moves_the_estimate_and_a_worse_one_does_not() -> None:
    clock = StandbyClock()
    clock.take(0.0, 1.4, 0.4)
    assert clock.ahead_s == pytest.approx(1.2)
    assert clock.take(1.0, 2.01, 1.02)
    assert clock.ahead_s == pytest.approx(1.0)
    assert not clock.take(2.0, 3.4, 2.4)
    assert clock.ahead_s == pytest.approx(1.0)


def test_a_change_too_small_to_see_leaves_the_fades_alone() -> None:
    clock = StandbyClock()
    clock.take(0.0, 1.005, 0.01)
    assert not clock.take(1.0, 2.0043, 1.009)


def test_answers_from_before_the_question_are_dropped() -> None:
    clock = StandbyClock()
    assert not clock.take(1.0, 5.0, 0.9)
    assert clock.ahead_s is None
