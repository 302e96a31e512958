"""The link's pace, and clocks that run on between two states."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.show.snapshot import CountdownState
from onecrew.tui import words
from onecrew.tui.link import Pace, aged
from tests.fakes import bakery
from tests.tui.driving import desk, drive


class Clock:
    """Time that moves when the test says so, with calls due on the way."""

    def __init__(self) -> None:
        self.now = 0.0
        self.due: list[tuple[float, Callable[[], None]]] = []

    def later(self, delay_s: float, call: Callable[[], None]) -> None:
        self.due.append((self.now + delay_s, call))

    def run_to(self, end: float) -> None:
        while self.due and min(self.due)[0] <= end:
            at, call = self.due.pop(self.due.index(min(self.due, key=lambda item: item[0])))
            self.now = at
            call()
        self.now = end


@settings(max_examples=100)
@given(st.lists(st.floats(0, 3), min_size=1, max_size=60))
def test_painting_is_never_faster_than_its_pace_and_never_misses_the_last(news: list[float]) -> None:
    clock = Clock()
    painted: list[float] = []
    pace = Pace(lambda: clock.now, clock.later, lambda: painted.append(clock.now), 0.1)
    for at in sorted(news):
        clock.run_to(at)
        pace.ask()
    clock.run_to(10)
    assert painted[0] == min(news), "after a rest it paints at once"
    assert all(later - earlier >= 0.1 - 1e-9 for earlier, later in pairwise(painted))
    assert max(news) <= painted[-1] <= max(news) + 0.1 + 1e-9


def test_the_countdown_runs_on_between_two_states() -> None:
    state = bakery.snapshot(countdown=CountdownState(left_s=7.5, command="go"), auto_follow_left_s=3.0)
    later = aged(state, 2.0)
    assert later.countdown is not None and later.countdown.left_s == pytest.approx(5.5)
    assert later.auto_follow_left_s == pytest.approx(1.0)
    end = aged(state, 60.0)
    assert end.countdown is not None and end.countdown.left_s == 0.0 and end.auto_follow_left_s == 0.0


def test_a_held_show_does_not_go_on_by_itself() -> None:
    state = bakery.snapshot(auto_follow_left_s=3.0, held=True)
    assert aged(state, 2.0).auto_follow_left_s == 3.0


def test_a_state_without_clocks_stays_the_same_object() -> None:
    state = bakery.snapshot()
    assert aged(state, 5.0) is state


@pytest.mark.parametrize(
    ("left_s", "shown"),
    [
        (0.0, "0.0"),
        (0.01, "0.1"),
        (3.0, "3.0"),
        (9.9, "9.9"),
        (9.95, "10"),
        (10.0, "10"),
        (10.2, "11"),
        (600, "600"),
    ],
)
def test_a_countdown_never_says_less_than_is_left(left_s: float, shown: str) -> None:
    assert words.countdown(left_s) == shown


@drive
async def test_the_screen_counts_while_the_engine_says_nothing() -> None:
    async with desk() as d:
        await d.change(countdown=CountdownState(left_s=8.0, command="go"))
        before = d.text()
        d.hands.now += 3.0
        await d.settle()
        assert d.text() != before
