"""Control: carries out commands, and what the other engine of a pair asks for."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

from onecrew.commands.command import Command, ShowCommand
from onecrew.commands.light import RaiseSlots
from onecrew.commands.session import BringBack, Redo, SettleFile, Stop, TakeOver, Undo
from onecrew.commands.table import parse_command
from onecrew.commands.takes import Note, TakeClip, TakeRecord, TakeStart
from onecrew.engine.desk import Desk
from onecrew.engine.frames import FrameLoop
from onecrew.engine.log_feed import LogFeed
from onecrew.engine.persistence import Persistence
from onecrew.errors import OnecrewError, Refused
from onecrew.language import saying
from onecrew.network.outputs import Outputs
from onecrew.playback.codec import from_json, shift
from onecrew.playback.state import Playback
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved
from onecrew.standby.policy import Adopt, Decision, End, InControl, Play, Say, Standby

log = logging.getLogger(__name__)


class Control:
    """What changes a running engine. Times are monotonic seconds."""

    def __init__(
        self,
        desk: Desk,
        frames: FrameLoop,
        outputs: Outputs,
        persistence: Persistence,
        log_feed: LogFeed,
        standby: Standby,
        clock: Callable[[], float],
        *,
        say: Callable[[str], None],
        hush: Callable[[], None],
        show_changed: Callable[[], None],
        followed: Callable[[], None],
    ) -> None:
        """``say`` takes a remark for every client, ``hush`` ends the one before; ``show_changed`` is called
        when there is another show, ``followed`` when what another engine plays is played here."""
        self._desk = desk
        self._frames = frames
        self._outputs = outputs
        self._persistence = persistence
        self._log_feed = log_feed
        self._standby = standby
        self._clock = clock
        self._say = say
        self._hush = hush
        self._told_show = show_changed
        self._followed = followed

    def receive(self, raw: dict[str, Any]) -> bool:
        """Carries out a command from the link; raises ``OnecrewError`` with a sentence where it cannot.

        False where it is about the show and nothing was otherwise before, so that there is no step of undo.
        """
        command = parse_command(raw)
        steps = isinstance(command, ShowCommand | BringBack)
        before = self._desk.history.place if steps else None
        try:
            self.carry_out(command)
            return not steps or self._desk.history.place != before
        except OnecrewError:
            raise
        except Exception as error:
            log.exception("a command failed: %r", raw)
            raise Refused(
                "the engine failed at this command: see whether it took effect; its log says more"
            ) from error

    def receive_osc(self, raw: dict[str, Any]) -> bool:
        """The same for a command by OSC: who may reach the engine is changed where that is what it asks for,
        not by an undo or an older version."""
        self._desk.remotes_stay = raw.get("kind") != "set-remote"
        try:
            return self.receive(raw)
        finally:
            self._desk.remotes_stay = False

    def carry_out(self, command: Command) -> None:
        """Carries out a command now; raises ``OnecrewError`` with a sentence where it cannot."""
        now = self._clock()
        self._standby.check(command)
        if isinstance(command, Stop):
            if not command.confirmed:
                ask_before_the_end(self._desk.playback, self._persistence.saved, self._log_feed.threatened)
            self.stop(command.fade_s)
            return
        if self._frames.ends_at is not None:
            raise Refused("the engine is ending")
        self._hush()
        if isinstance(command, Note):
            self._log_feed.note(command, self._desk, now)
            self._say(command.text)
            self._frames.plan(now)
            return
        if isinstance(command, TakeClip | TakeRecord):
            self._say(self._log_feed.record(command, self._desk, now))
            self._frames.plan(now)
            return
        if isinstance(command, RaiseSlots):
            self._raise_slots(command, now)
            return
        if isinstance(command, TakeOver):
            for decision in self._standby.take_over(command):
                self.decided(decision)
            return
        # A take begins with a frame that leaves at once, so that it always has the same ones.
        begins = self._frames.earliest if isinstance(command, TakeStart) else self._frames.begins
        now = begins(now)
        played = self._desk.playback
        try:
            self._advance_and_obey(command, now)
        except BaseException:
            if self._desk.playback is not played:  # what was due by itself has happened all the same
                self._frames.changed(now)
            raise
        self._frames.changed(now)

    def _advance_and_obey(self, command: Command, now: float) -> None:
        """Runs what is due by ``now``, then the command."""
        self._frames.advance(now)
        before, revision, show = self._desk.playback, self._desk.revision, self._desk.show
        if isinstance(command, SettleFile):
            self._persistence.settle(command, self._desk, now)
        elif isinstance(command, BringBack):
            self._persistence.bring_back(command, self._desk, now)
        else:
            self._desk.carry_out(command, now)
        if isinstance(command, Undo):
            self._say(f"undone: {self._desk.redo_words}")
        elif isinstance(command, Redo):
            self._say(f"done again: {self._desk.undo_words}")
        self._log_feed.heard(command, before, revision, self._desk, now)
        if self._desk.revision != revision:
            self._show_changed(show)

    def stop(self, fade_s: float = 1.0) -> None:
        """Fades to black and ends."""
        now = self._clock()
        self._log_feed.stopping(fade_s, now)
        self._desk.fade_away(now, fade_s)
        self._frames.ends_at = now + fade_s
        self._frames.changed(now)

    def _raise_slots(self, command: RaiseSlots, now: float) -> None:
        """Moves slots by hand; the log has where and from when, not each step."""
        sent = self._desk.universes
        begins = self._desk.raise_slots(command, now)
        if begins:
            of = f" of {command.fixture}" if command.fixture is not None else ""
            place = f"universe {command.universe}, address {command.address}"
            said = f"{len(command.slots)} slots{of} are raised by hand at {place}"
            self._log_feed.note(Note(text=said), self._desk, now)
        if self._desk.universes != sent:
            self._rewire()
        self._frames.changed(now)

    def _show_changed(self, before: Show) -> None:
        show = self._desk.show
        if show.output != before.output or show.rig != before.rig or show.name != before.name:
            self._rewire()
        self._told_show()
        self._persistence.save(show)

    def _rewire(self) -> None:
        """Has the outputs send by the settings of now."""
        show = self._standby.wire(self._desk.show)
        self._outputs.reconfigure(show, self._desk.universes, self._clock(), artnet=self._standby.artnet)

    def decided(self, decision: Decision) -> None:
        """Carries out what this engine's part in a pair asks for."""
        match decision:
            case Say(sentence):
                self._say(sentence)
            case InControl(on):
                self._persistence.live.in_charge = on
                self._rewire()
                self._frames.changed(self._clock())
            case Adopt(show, profiles):
                before = self._desk.show
                self._desk.follow(show, profiles, self._clock())
                self._show_changed(before)
                self._frames.changed(self._clock())
            case Play(playback, ahead_s):
                self._desk.playback = shift(
                    from_json(playback, self._desk.compiled), -ahead_s, remembering=True
                )
                self._frames.changed(self._clock())
                self._followed()
            case End():
                self.stop(0.0)


def ask_before_the_end(playback: Playback, saved: Saved, log_threatened: str) -> None:
    """Raises ``Refused`` where an end would take away what somebody wanted to be sure of."""
    if playback.locked:
        raise Refused("the desk is locked, and this ends its light: unlock first, or confirm the end")
    take = playback.take
    if take is not None and take.running:
        named = saying.take(take.setup, take.number)
        raise Refused(f"{named} is rolling, and this ends its light: end the take first, or confirm the end")
    if not saved.ok:
        raise Refused(f"the show is not saved ({saved.error}): fix that first, or confirm the end")
    if log_threatened:
        raise Refused(f"the log would lose entries ({log_threatened}): fix that first, or confirm the end")
