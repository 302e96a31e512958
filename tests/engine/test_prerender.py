"""Frames worked out ahead are the ones that would have been made one by one, and a change makes them void."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.commands.command import Command
from onecrew.commands.light import SetLight
from onecrew.commands.running import Hold, Master, Recall
from onecrew.commands.session import Rename
from onecrew.engine.desk import Desk
from onecrew.engine.frame_clock import FRAME_S
from onecrew.engine.prerender import BEFORE, FIRST, MOST
from onecrew.engine.state import state_of
from onecrew.show.light import Light
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
            work = self.desk.work_ahead(self.shown, FRAME_S)
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
        FRESH.playback = self.desk.playback
        return FRESH


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
    for frames in (FIRST - BEFORE, MOST):
        assert running.send(frames - 1) == 0
        assert running.send() == 1
    assert running.known


@pytest.mark.parametrize(("alike", "known"), [(9, True), (32, True), (33, False)])
def test_lamps_of_one_kind_make_a_series_shorter_until_it_does_not_pay(alike: int, known: bool) -> None:
    lamp = SHOW.rig.fixtures[0]
    lamps = [lamp.model_copy(update={"id": f"bar-{n}", "address": 1 + 4 * n}) for n in range(alike)]
    dark = {one.id: Light(level=0.0) for one in lamps}
    cues = [Cue(number="1", look=dark), Cue(number="2", look={id: Light(level=1.0) for id in dark})]
    running = Running(SHOW.model_copy(update={"rig": Rig(fixtures=tuple(lamps)), "cues": tuple(cues)}))
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
    assert running.send() == 1
    assert running.known


def test_a_command_in_the_middle_of_the_work_leaves_nothing_of_it() -> None:
    running = Running()
    work = running.desk.work_ahead(running.shown, FRAME_S)
    assert work is not None
    next(work)
    running.desk.carry_out(Master(level=0.5), running.shown)
    for _ in work:
        pass
    for _ in range(2 * MOST):
        np.testing.assert_array_equal(running.desk.slots(running.shown), running.fresh().slots(running.shown))
        running.send()


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
