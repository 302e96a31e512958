"""Slots raised by hand never flash, and are black as soon as nobody asks for them."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.light import HELD_S, RAMP_S
from onecrew.engine.raw_slots import RawSlots, raw_slots

goals = st.tuples(st.integers(0, 255), st.integers(0, 255))


def fresh(now: float = 10.0) -> RawSlots:
    return raw_slots(1, 101, 2, now, None)


def test_a_movement_takes_its_time_and_then_stands() -> None:
    slots = fresh().toward((0, 255), 10.0)
    assert slots.at(10.0) == bytes((0, 0))
    assert slots.at(10.0 + RAMP_S / 2) in (bytes((0, 127)), bytes((0, 128)))
    assert slots.at(10.0 + RAMP_S) == slots.at(10.0 + HELD_S - 0.01) == bytes((0, 255))


def test_they_are_black_when_nobody_asks_any_more() -> None:
    slots = fresh().toward((0, 255), 10.0)
    assert slots.at(10.0 + HELD_S) == bytes(2)
    assert not slots.lit(10.0 + HELD_S)
    held = slots.toward((0, 255), 11.9)
    assert held.at(10.0 + HELD_S) == bytes((0, 255))


def test_after_a_time_without_anybody_they_stay_black_for_a_movement() -> None:
    slots = fresh().toward((255, 255), 10.0)
    again = slots.toward((255, 255), 10.0 + HELD_S + 0.1)
    assert again.at(10.0 + HELD_S + RAMP_S) == bytes(2)
    assert again.at(10.0 + HELD_S + 1.2 * RAMP_S) == bytes((51, 51))


def test_black_is_at_once_and_what_follows_waits_a_movement() -> None:
    slots = fresh().toward((255, 255), 10.0).toward((255, 255), 11.5)
    black = slots.black(11.6)
    assert black.at(11.6) == bytes(2)
    assert not black.lit(11.6) and not black.moving(11.7)
    again = black.toward((255, 255), 11.7)
    assert again.at(11.6 + RAMP_S) == bytes(2)
    elsewhere = raw_slots(1, 301, 2, 11.7, black).toward((255, 255), 11.7)
    assert elsewhere.at(11.6 + RAMP_S) == bytes(2)


def test_they_move_until_what_waits_its_turn_has_come() -> None:
    slots = fresh().toward((255, 0), 10.0).toward((0, 255), 10.2)
    for at in (10.1, 10.0 + RAMP_S + 0.1, 10.0 + 1.9):
        assert slots.moving(at)
    assert not slots.toward((0, 255), 11.5).moving(10.0 + 2 * RAMP_S)


@given(st.lists(st.tuples(st.floats(0.02, 1.9), goals), min_size=1, max_size=30))
def test_no_slot_turns_more_than_once_in_a_movement_however_often_it_is_asked(
    asked: list[tuple[float, tuple[int, int]]],
) -> None:
    """WCAG 2.3.1 allows three flashes, pairs of opposing changes, in a second; here is less than one."""
    now, slots = 10.0, fresh()
    course: list[tuple[float, int]] = []
    for wait, goal in asked:
        slots = slots.toward(goal, now)
        for step in range(20):
            course.append((now + wait * step / 20, slots.at(now + wait * step / 20)[0]))
        now += wait
    turns = []
    way = 0
    for (_, a), (at, b) in pairwise(course):
        if b != a and (b > a) - (b < a) != way:
            way = (b > a) - (b < a)
            turns.append(at)
    assert all(later - earlier > RAMP_S - 0.2 for earlier, later in pairwise(turns))
