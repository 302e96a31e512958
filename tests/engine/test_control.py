"""Control: what was due before a command happens, whatever becomes of the command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import Any
from unittest.mock import MagicMock

import numpy as np
import pytest

from onecrew.commands.command import Command
from onecrew.commands.countdown import Countdown
from onecrew.commands.light import SetLight
from onecrew.commands.network import SetRemote
from onecrew.commands.running import Hold, Recall
from onecrew.commands.session import Redo, Undo
from onecrew.engine.control import Control
from onecrew.errors import Refused
from onecrew.show.show import Remote
from tests.engine.test_frames import LAMPS, Stand


class Controlled(Stand):
    """A stand whose commands go through control, with nothing beside light."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.control: Control | None = None
        super().__init__(monkeypatch)
        self.log_feed = MagicMock()
        wire: Any = self.wire
        self.control = Control(
            self.desk,
            self.frames,
            wire,
            MagicMock(),
            self.log_feed,
            MagicMock(),
            self.loop.time,
            say=lambda _: None,
            hush=self.desk.hush,
            show_changed=lambda: None,
            followed=lambda: None,
        )

    def _carry_out(self, command: Command) -> None:
        if self.control is None:
            super()._carry_out(command)
        else:
            self.control.carry_out(command)

    def hear(self, command: Command) -> None:
        """A command by OSC."""
        control = self.control
        assert control is not None
        self._do(lambda: control.receive_osc(command.model_dump(mode="json")))

    def is_what_plays(self) -> bool:
        """Whether the last packet carries it."""
        return bool(np.array_equal(self.wire.sent[-1][1], self.would_send([self.loop.time()])[0]))


@pytest.fixture
def stand(monkeypatch: pytest.MonkeyPatch) -> Iterator[Controlled]:
    with closing(Controlled(monkeypatch)) as stand:
        stand.tell(Recall(cue="1", fade_s=0.0))
        stand.run(2.0)
        yield stand


def test_what_is_due_by_itself_happens_though_the_command_is_refused(stand: Controlled) -> None:
    stand.tell(Countdown(seconds=1.0, command=Recall(cue="2", fade_s=1.0)))
    stand.loop.advance(1.0 + 5e-4)  # due, and the socket has its turn before the timer
    with pytest.raises(Refused):
        stand.tell(Recall(cue="99"))
    sent = len(stand.wire.sent)
    stand.run(3.0)
    assert stand.desk.playback.cue == "2"
    assert len(stand.wire.sent) > sent + 40
    assert stand.is_what_plays()


@pytest.mark.parametrize("command", [Hold(on=True), Recall(cue="2", fade_s=60.0)], ids=lambda one: one.kind)
def test_a_command_while_the_frame_of_a_cut_waits_begins_with_that_cut(
    command: Command, stand: Controlled
) -> None:
    stand.tell(Recall(cue="2", fade_s=20.0))
    stand.run(5.0)
    stand.while_the_frame_of_an_event_waits(Recall(cue="2", fade_s=0.0))
    count = len(stand.wire.sent)
    stand.tell(command)
    stand.run(0.2)
    cut, *after = (slots for _, slots in stand.wire.sent[count:])
    assert after
    for slots in after:  # none falls back to the light before the cut
        np.testing.assert_array_equal(slots, cut)


def test_light_that_changed_leaves_though_something_failed_after_it(stand: Controlled) -> None:
    stand.log_feed.heard.side_effect = RuntimeError("a bug")
    with pytest.raises(RuntimeError):
        stand.tell(SetLight(fixtures=LAMPS[:1], level=0.3))
    stand.run(0.5)
    assert stand.desk.playback.asked[0].level == 0.3
    assert stand.is_what_plays()


def test_an_undo_by_osc_changes_nothing_of_who_may_reach_the_engine(stand: Controlled) -> None:
    wanted = Remote.model_validate({"page": {"listen": "127.0.0.1:8000"}})
    stand.hear(SetRemote(remote=wanted))
    steps: tuple[tuple[Command, Remote], ...] = ((Undo(), wanted), (Redo(), Remote()))
    for step, stays in steps:
        with pytest.raises(Refused, match="who may reach the engine"):
            stand.hear(step)
        assert stand.desk.show.remote == stays
        stand.tell(step)
    assert stand.desk.show.remote == wanted
    stand.tell(SetLight(fixtures=LAMPS[:1], level=0.3))
    stand.hear(Undo())
    assert stand.desk.playback.asked[0].level != 0.3
