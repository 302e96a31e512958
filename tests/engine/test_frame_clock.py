"""The frame clock: frames show moments of their own, never closer than 44 Hz; lateness leaves no trace."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.engine.frame_clock import EVENT_LEAD_S, FRAME_S, FrameClock

PERIOD_S = 1 / 44  # E1.31-2018 §6.6.1 with E1.11: 44 packets a second of 512 slots at most


def frames(
    clock: FrameClock, lateness: list[float], now: float = 0.0, *, makes_s: float = 0.0
) -> list[tuple[float, float]]:
    """Moments shown and times left of a light that moves; a frame is begun this late, made in ``makes_s``."""
    made: list[tuple[float, float]] = []
    for late in lateness:
        now = max(now, clock.due(True, None)) + late
        moment = clock.take(now, True, None)
        assert moment is not None
        now += makes_s
        clock.made(now)
        left = max(now, made[-1][1] + PERIOD_S) if made else now  # the wire waits for the limit
        made.append((moment, left))
    return made


@settings(max_examples=50)
@given(st.lists(st.floats(min_value=0.0, max_value=0.02), min_size=2, max_size=60))
def test_frames_a_little_late_show_what_frames_on_time_show(lateness: list[float]) -> None:
    late, on_time = FrameClock(5.0), FrameClock(5.0)
    shown = [moment for moment, _ in frames(late, lateness)]
    reference = [moment for moment, _ in frames(on_time, [0.0] * 4 * len(lateness))]
    assert set(shown) <= set(reference)
    assert shown == sorted(set(shown))


@settings(max_examples=50)
@given(st.lists(st.floats(min_value=0.0, max_value=0.2), min_size=2, max_size=60))
def test_no_two_frames_are_closer_than_44_hz_allows(lateness: list[float]) -> None:
    left = [now for _, now in frames(FrameClock(5.0), lateness)]
    assert all(b - a >= PERIOD_S - 1e-9 for a, b in pairwise(left))


@settings(max_examples=50)
@given(st.lists(st.floats(min_value=0.0, max_value=0.2), min_size=2, max_size=60))
def test_a_frame_shows_what_is_at_most_one_frame_old(lateness: list[float]) -> None:
    for moment, now in frames(FrameClock(5.0), lateness):
        assert now - FRAME_S - 1e-9 <= moment <= now + 1e-9


def test_a_small_delay_is_caught_up() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.002])
    made = frames(clock, [0.0] * 6)
    assert made[-1][1] - made[-1][0] < 1e-9
    assert made[0][1] - made[0][0] > 0.001


@pytest.mark.parametrize("makes_s", [0.0003, 0.002, 0.006])
def test_however_long_a_frame_takes_to_make_it_leaves_on_the_grid(makes_s: float) -> None:
    made = frames(FrameClock(0.0), [0.0001] * 200, makes_s=makes_s)
    assert [moment for moment, _ in made] == [step * FRAME_S for step in range(200)]  # none is left out
    assert all(0.0 <= left - moment < 0.0005 for moment, left in made[20:])


@pytest.mark.parametrize("makes_s", [0.001, 0.002, 0.004])
def test_a_fade_after_quick_frames_is_on_its_beat_from_its_first_frame(makes_s: float) -> None:
    """At rest and by hand frames are quick to make; that says nothing about those of a fade."""
    clock = FrameClock(0.0)
    frames(clock, [0.0] * 20, makes_s=0.0002)
    begun = clock.ask(clock.shown + 5.0)
    made = frames(
        clock, [0.0], now=begun, makes_s=makes_s / 2.0
    )  # the first one may be quicker than the rest
    made += frames(clock, [0.0] * 29, now=made[0][1], makes_s=makes_s)
    assert [moment for moment, _ in made] == [begun + step * FRAME_S for step in range(30)]
    behind = [left - moment for moment, left in made]
    assert behind[0] == pytest.approx(makes_s / 2.0)  # it is begun when it is asked for
    assert all(b <= a + 1e-9 for a, b in pairwise(behind[1:]))  # and none falls further behind
    caught_up = 3 + int(makes_s / (FRAME_S - PERIOD_S))
    assert all(late < 1e-6 for late in behind[caught_up:])


def test_a_frame_that_is_ready_before_its_moment_leaves_then_and_the_next_a_limit_later() -> None:
    clock = FrameClock(0.0)
    *_, (_, left) = frames(clock, [0.0] * 20, makes_s=0.004)
    now = clock.due(True, None)
    assert now < left + PERIOD_S
    clock.take(now, True, None)
    clock.made(now)  # quicker than any before
    assert clock.earliest(now) == clock.ask(now) == pytest.approx(clock.shown + PERIOD_S)


def test_a_frame_is_not_begun_long_before_its_moment() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0] * 20, makes_s=0.015)
    assert clock.due(True, None) >= clock.shown + FRAME_S - 0.008
    assert clock.ask(clock.shown) == clock.due(True, None)  # and one that is asked for not before it at all


def test_a_long_stop_is_left_out_and_not_made_up_for() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0])
    [(moment, now)] = frames(clock, [3.0])
    assert now - moment < FRAME_S
    assert moment / FRAME_S == int(moment / FRAME_S)  # still on the grid


def test_a_command_at_rest_is_shown_at_once() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0])
    assert clock.ask(7.0) == 7.0
    assert clock.take(7.0, True, None) == 7.0


def test_a_command_behind_a_frame_waits_for_the_limit_and_starts_the_beat_anew() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0])
    assert clock.ask(0.01) == PERIOD_S
    assert clock.take(0.02, True, None) is None
    assert clock.take(PERIOD_S + 0.001, True, None) == PERIOD_S
    clock.made(PERIOD_S + 0.001)
    assert clock.take(0.1, True, None) == PERIOD_S + 3 * FRAME_S


def test_at_rest_an_event_is_shown_at_its_own_moment_however_late() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0])
    assert clock.due(False, None) == float("inf")
    assert clock.due(False, 4.0) == 4.0
    assert clock.take(3.9, False, 4.0) is None
    assert clock.take(4.015, False, 4.0) == 4.0


def test_while_the_light_moves_an_event_waits_for_the_next_frame() -> None:
    clock = FrameClock(0.0)
    frames(clock, [0.0])
    begun = clock.due(True, 0.01)
    assert begun == FRAME_S - EVENT_LEAD_S
    assert clock.due(True, FRAME_S + 0.001) == FRAME_S
    assert clock.take(begun, True, 0.01) == FRAME_S
    clock.made(begun + 0.007)
    assert clock.earliest(begun) == FRAME_S + PERIOD_S  # it waits for its moment
    assert clock.due(True, None) == pytest.approx(2 * FRAME_S - 0.007)
