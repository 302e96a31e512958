"""Frames worked out ahead are the ones that would have been made one by one, and a change makes them void."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np
import pytest

from onecrew.commands.command import Command
from onecrew.commands.light import SetLight
from onecrew.commands.rig import RemoveFixture
from onecrew.commands.running import Hold, Master, Recall
from onecrew.commands.session import Rename
from onecrew.engine.desk import Desk
from onecrew.engine.frame_clock import FRAME_S
from onecrew.engine.prerender import BEFORE, FIRST, MOST, ROWS
from onecrew.engine.state import state_of
from onecrew.show.light import Light, White
from onecrew.show.show import Cue, Rig, Show
from tests.benchmarks.bench_soak import every_kind
from tests.fakes.profiles import all_profiles

SHOW = Show.model_validate(every_kind())
FRESH = Desk(SHOW, all_profiles(), 0.0)
"""Nobody has it work ahead."""


class Running:
    """A desk in a fade, whose frames are sent on their grid."""

    def __init__(self, show: Show = SHOW) -> None:
        self.shown = 100.0
        self.desk = Desk(show, all_profiles(), self.shown)
        self.desk.carry_out(Recall(cue="1", fade_s=0.0), self.shown)
        self.desk.carry_out(Recall(cue="2", fade_s=20.0), self.shown)

    def send(self, frames: int = 1) -> int:
        """Sends some frames, each with what is to be worked out after it; how often that was something."""
        begun = 0
        for _ in range(frames):
            self.desk.slots(self.shown)
            work = self.desk.work_ahead(self.shown)
            if work is not None:
                begun += 1
                for _ in work:
                    pass
            self.shown += FRAME_S
        return begun

    @property
    def known(self) -> bool:
        """Whether the frame that is due is worked out."""
        return self.desk.prerenderer.slots(self.desk.playback, self.shown) is not None

    def fresh(self) -> Desk:
        """A desk of the same that knows nothing ahead."""
        fresh = FRESH if self.desk.show is SHOW else Desk(self.desk.show, all_profiles(), 0.0)
        fresh.playback = self.desk.playback
        return fresh


def alike(number: int, kinds: int = 1) -> Show:
    """So many lamps of each of some kinds, and a dark and a bright look of them."""
    lamps = [
        lamp.model_copy(update={"id": f"{lamp.id}-{n}", "universe": 1 + kind, "address": 1 + 15 * n})
        for kind, lamp in enumerate(SHOW.rig.fixtures[:kinds])
        for n in range(number)
    ]
    whites = (White(cct_k=3000.0), White(cct_k=5000.0))
    looks = [{one.id: Light(level=float(n), white=whites[n]) for one in lamps} for n in range(2)]
    cues = [Cue(number="12"[n], look=look) for n, look in enumerate(looks)]
    return SHOW.model_copy(update={"rig": Rig(fixtures=tuple(lamps)), "cues": tuple(cues)})


def some(work: Iterator[None], parts: int = 1000) -> int:
    """Does so many parts of it; returns how many there were."""
    return sum(1 for _ in islice(work, parts))


def test_a_fade_is_slot_for_slot_what_it_is_frame_by_frame() -> None:
    running, known = Running(), 0
    for _ in range(1 + FIRST + 2 * MOST):
        known += running.known
        np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
        running.send()
    assert known == FIRST + 2 * MOST  # all but the frame of the command


def test_a_series_is_begun_once_and_the_next_before_it_ends() -> None:
    running = Running()
    assert running.send() == 1
    for frames in (FIRST - 1 + MOST - BEFORE, MOST):
        assert running.send(frames - 1) == 0
        assert running.send() == 1
    assert running.known


@pytest.mark.parametrize(("lamps", "known"), [(9, True), (32, True), (33, False)])
def test_lamps_of_one_kind_make_a_series_shorter_until_it_does_not_pay(lamps: int, known: bool) -> None:
    running = Running(alike(lamps))
    running.send()
    for _ in range(40):
        assert running.known is known
        running.send()


@pytest.mark.parametrize(
    "command",
    [
        SetLight(fixtures=("par-rgb",), level=0.3),
        Master(level=0.5),
        Hold(on=True),
        Recall(cue="1"),
        Rename(name="Another"),
    ],
    ids=lambda command: command.kind,
)
def test_a_command_makes_void_what_was_worked_out(command: Command) -> None:
    running = Running()
    running.send(3)
    assert running.known
    running.desk.carry_out(command, running.shown)
    assert not running.known
    np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
    assert running.send() == (command.kind != "hold")
    assert running.known is (command.kind != "hold")  # what stands still has nothing to be worked out of it


def test_a_command_in_the_middle_of_the_work_leaves_nothing_of_it() -> None:
    running = Running()
    work = running.desk.work_ahead(running.shown)
    assert work is not None
    next(work)
    running.desk.carry_out(Master(level=0.5), running.shown)
    for _ in work:
        pass
    for _ in range(2 * MOST):
        np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
        running.send()


@pytest.mark.parametrize("parts", [1, 5, 12])
def test_work_that_a_command_made_void_does_no_harm_to_what_follows(parts: int) -> None:
    running = Running()
    running.send()
    running.desk.carry_out(Recall(cue="1", fade_s=5.0), running.shown)
    void = running.desk.making(running.shown)
    some(void, parts)
    running.desk.carry_out(Recall(cue="2", fade_s=3.0), running.shown)
    work = running.desk.making(running.shown)
    some(work, 7)
    some(void)
    some(work)
    for _ in range(FIRST):
        assert running.known
        np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
        running.shown += FRAME_S


def test_a_frame_that_is_due_ends_the_work_that_was_begun_on_it() -> None:
    running = Running()
    work = running.desk.making(running.shown)
    some(work, 5)
    np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
    assert some(work) == 0


def test_work_that_was_left_is_gone_on_with() -> None:
    running = Running()
    left = running.desk.work_ahead(running.shown)
    assert left is not None
    some(left, 3)
    work = running.desk.work_ahead(running.shown)
    assert work is not None
    some(work)
    running.shown += FRAME_S
    assert running.known


def test_a_frame_made_in_the_middle_of_other_work_does_it_no_harm() -> None:
    """Of 16 lamps of a kind both series have eight frames."""
    running = Running(alike(ROWS // FIRST, kinds=3))
    running.desk.slots(running.shown)
    work = running.desk.work_ahead(running.shown)
    assert work is not None
    some(work, 2)
    running.shown += (FIRST + 1) * FRAME_S
    assert not running.known
    for _ in range(FIRST):
        np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
        some(work, 1)
        running.shown += FRAME_S


@pytest.mark.parametrize(
    ("command", "known"),
    [
        (Recall(cue="1", fade_s=20.0), True),
        (SetLight(fixtures=("par-rgb",), level=0.3, fade_s=20.0), False),
        (Recall(cue="1", fade_s=0.0), False),
    ],
    ids=["most", "one", "none"],
)
def test_a_frame_is_made_with_the_next_where_most_lamps_move(command: Command, known: bool) -> None:
    running = Running()
    running.desk.carry_out(Recall(cue="2", fade_s=0.0), running.shown)
    running.desk.slots(running.shown)
    running.desk.carry_out(command, running.shown)
    running.shown += FRAME_S
    running.desk.slots(running.shown)
    running.shown += FRAME_S
    assert running.known is known


def test_what_would_have_been_sent_is_known_until_the_rig_is_another() -> None:
    running = Running()
    running.send(3)
    expected = [running.fresh().slots(running.shown + frame * FRAME_S) for frame in range(2)]
    played = running.desk.playback
    running.desk.carry_out(Master(level=0.5), running.shown)
    shown = running.shown - FRAME_S
    np.testing.assert_array_equal(running.desk.slots_instead(played, shown, 2), expected)
    assert running.desk.slots_instead(running.desk.playback, shown, 2) == []
    running.desk.carry_out(RemoveFixture(id="par-rgb"), running.shown)
    assert running.desk.slots_instead(played, shown, 2) == []


def test_what_clients_see_is_the_same_whether_it_was_worked_out_or_not() -> None:
    running = Running()
    running.send(3)
    for _ in range(3):
        assert running.known
        told = state_of(running.desk, running.shown).reports
        expected = state_of(running.fresh(), running.shown).reports
        assert [(one.id, one.slots, one.notes) for one in told] == [
            (one.id, one.slots, one.notes) for one in expected
        ]
        assert [one.level for one in told] == pytest.approx([one.level for one in expected])
        running.send(5)


def test_what_is_returned_is_the_callers_own() -> None:
    running = Running()
    running.send(3)
    first = running.desk.slots(running.shown)
    kept = first.copy()
    first[:] = 0
    np.testing.assert_array_equal(running.desk.slots(running.shown), kept)
