"""What the log says of a time in which the engine could send nothing: how long it was, and nothing of short
ones."""

from __future__ import annotations

import pytest

from onecrew.engine.halts import Halts, asleep
from onecrew.log.happenings import Happening


class Machine:
    """A machine whose two clocks are set by hand, and an engine at rest on it: a turn each 0.9 s."""

    def __init__(self) -> None:
        self.now, self.slept = 100.0, 7.0
        self.halts = Halts(lambda: self.slept)
        self.planned = self.now
        self.turns(3)

    def turn(self) -> Happening | None:
        told = self.halts.turn(self.planned, self.now)
        self.planned = self.now + 0.9
        return told

    def turns(self, count: int) -> None:
        for _ in range(count):
            assert self.turn() is None
            self.now += 0.9


@pytest.fixture
def machine() -> Machine:
    return Machine()


def test_a_halted_process_is_told_once_with_the_whole_time(machine: Machine) -> None:
    machine.now += 19.4
    told = machine.turn()
    assert told is not None
    assert told.kind == "output" and told.what == "halt" and told.data == {"seconds": 20.3}
    assert told.text == "no frames left for 20.3 s (the computer slept, was halted or had no time)"
    machine.now += 0.9
    machine.turns(3)


def test_a_machine_that_slept_is_told_although_its_monotonic_time_stood_still(machine: Machine) -> None:
    machine.slept += 3600.0
    told = machine.turn()
    assert told is not None and told.data == {"seconds": 3600.9}
    machine.now += 0.9
    machine.turns(3)


@pytest.mark.parametrize(("late", "is_told"), [(0.0, False), (0.9, False), (1.1, True)])
def test_what_is_shorter_than_a_second_is_not_told(machine: Machine, late: float, is_told: bool) -> None:
    machine.now += late
    assert (machine.turn() is not None) == is_told


def test_a_turn_that_comes_before_it_was_planned_is_none_that_is_late(machine: Machine) -> None:
    machine.now -= 0.8  # a command
    machine.turns(1)


def test_the_real_clocks_of_this_machine_go_together() -> None:
    before = asleep()
    assert asleep() == pytest.approx(before, abs=0.5)
