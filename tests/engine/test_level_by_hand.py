"""A level of one lamp at rest is sent before what plays is worked out, and nobody can tell."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from onecrew.commands.command import Command
from onecrew.commands.light import Identify, SetLight, Solo
from onecrew.commands.running import Blackout, Hold, Lock, Master, Recall
from onecrew.commands.session import Undo
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from onecrew.fixtures.encoder import Encoder
from onecrew.playback.codec import to_json
from onecrew.playback.single_lamp import SingleMove
from onecrew.show.show import Show
from tests.benchmarks.bench_soak import every_kind
from tests.fakes.profiles import all_profiles

SHOW = Show.model_validate(every_kind())
LAMPS = tuple(fixture.id for fixture in SHOW.rig.fixtures)
PROFILES = all_profiles()

one = st.sampled_from(LAMPS).map(lambda name: (name,))
level = st.sampled_from((0.0, 0.004, 0.5, 1.0)) | st.floats(0.0, 1.0)
commands: st.SearchStrategy[Any] = st.one_of(
    st.builds(SetLight, fixtures=one, level=level),
    st.builds(SetLight, fixtures=one, level_by=st.floats(-0.5, 0.5)),
    st.builds(SetLight, fixtures=one, level=level, fade_s=st.just(0.5)),
    st.builds(SetLight, fixtures=one, cct_k=st.floats(2700.0, 6500.0)),
    st.builds(Recall, cue=st.sampled_from(("1", "2")), fade_s=st.sampled_from((0.0, 0.5))),
    st.builds(Master, level=level),
    st.builds(Solo, fixtures=one),
    st.builds(Identify, fixtures=one),
    st.builds(Blackout),
    st.builds(Hold),
    st.builds(Undo),
)


class Told:
    """A desk that is told what a person does; ``at_once``: its playback is read after every command."""

    def __init__(self, *, at_once: bool) -> None:
        self.at_once = at_once
        self.desk = Desk(SHOW, PROFILES, 0.0)
        self.now = 0.0
        self.moves = 0

    def do(self, command: Command, wait_s: float) -> list[bytes]:
        """What is sent at the command and after a wait, and where both are worked ahead of."""
        self.now += wait_s
        try:
            self.desk.carry_out(command, self.now)
        except Refused:
            return []
        if self.at_once:
            self.desk.encoder = Encoder(SHOW.rig.fixtures, PROFILES)
            assert self.desk.playback is not None
        self.moves += isinstance(self.desk.plays, SingleMove) and not self.desk.plays.is_worked_out
        moving = self.desk.moving(self.now)
        sent = [self.desk.slots(self.now).tobytes(), b"moving" if moving else b""]
        for _ in self.desk.work_ahead(self.now) or ():
            pass
        return sent


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(commands, st.sampled_from((0.05, 1.0, 3.0))), min_size=1, max_size=12))
def test_law_what_is_sent_and_what_plays_are_as_if_it_was_worked_out_first(
    steps: list[tuple[Command, float]],
) -> None:
    lazy, eager = Told(at_once=False), Told(at_once=True)
    for command, wait_s in ((Recall(cue="1", fade_s=0.0), 0.0), *steps):
        assert lazy.do(command, wait_s) == eager.do(command, wait_s)
        assert lazy.desk.next_event(lazy.now) == eager.desk.next_event(eager.now)
        assert to_json(lazy.desk.playback) == to_json(eager.desk.playback)
    event(f"moves: {min(lazy.moves, 3)}")
    assert [step.words for step in lazy.desk.history.undo] == [step.words for step in eager.desk.history.undo]
    assert [step.light for step in lazy.desk.history.undo] == [step.light for step in eager.desk.history.undo]


def at_rest() -> Told:
    told = Told(at_once=False)
    told.do(Recall(cue="1", fade_s=0.0), 0.0)
    return told


def test_every_lamp_goes_ahead_of_what_plays() -> None:
    told = at_rest()
    for name in LAMPS:
        told.do(SetLight(fixtures=(name,), level=0.4), 1.0)
    assert told.moves == len(LAMPS)


@pytest.mark.parametrize("before", [Master(level=0.5), Lock(on=True), Recall(cue="2", fade_s=5.0)])
def test_what_is_more_than_one_lamp_does_not(before: Command) -> None:
    told = at_rest()
    told.do(before, 1.0)
    moves = told.moves
    told.do(SetLight(fixtures=(LAMPS[0],), level=0.4), 0.1)
    assert told.moves == moves + isinstance(before, Master)  # it takes no time


def test_only_the_lamp_that_moves_is_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    told = at_rest()
    told.desk.carry_out(SetLight(fixtures=(LAMPS[0],), level=0.4), 1.0)
    with monkeypatch.context() as watched:
        watched.setattr(Encoder, "encode", lambda self, frame: pytest.fail("more than one lamp"))
        sent = told.desk.slots(1.0)
    np.testing.assert_array_equal(sent, Encoder(SHOW.rig.fixtures, PROFILES).encode(told.desk.frame(1.0)))


def test_a_bug_in_what_follows_leaves_what_played(monkeypatch: pytest.MonkeyPatch) -> None:
    told = at_rest()
    before = told.desk.playback
    told.desk.carry_out(SetLight(fixtures=(LAMPS[0],), level=0.4), 1.0)
    with monkeypatch.context() as broken:
        broken.setattr("onecrew.playback.single_lamp.space_out", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            assert told.desk.playback
    assert told.desk.playback is before
    told.do(SetLight(fixtures=(LAMPS[0],), level=0.7), 1.0)
    assert told.desk.playback.asked[0].level == 0.7


def test_as_long_as_nothing_moves_the_light_is_one_frame() -> None:
    told = at_rest()
    assert told.desk.frame(2.0) is told.desk.frame(3.0)
    told.do(Recall(cue="2", fade_s=1.0), 3.0)
    assert told.desk.frame(3.2) is not told.desk.frame(3.2)
    told.now = 9.0
    assert told.desk.frame(9.0) is told.desk.frame(9.5)
    assert told.desk.frame(3.2) is not told.desk.frame(9.0)
