"""Process: the engine as a process. It joins frames, what outlives them, what clients see, and the remotes.

One thread, one event loop. A command is carried out as it arrives and its frame leaves at once if the 44 Hz
limit allows; then it is kept, and then the client hears that it is done. Only saving and the log's file are
in threads.
"""

from __future__ import annotations

import asyncio
import logging
import os
import time
from collections.abc import Callable, Iterator
from typing import Any
from uuid import UUID

from onecrew.commands.command import Command
from onecrew.commands.light import RaiseSlots
from onecrew.commands.session import BringBack, Redo, SettleFile, Stop, TakeOver, Undo
from onecrew.commands.table import parse_command
from onecrew.commands.takes import Note, TakeClip, TakeRecord, TakeStart
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Endpoint, Files, announce, remove_endpoint
from onecrew.engine.frames import FrameLoop
from onecrew.engine.installation import installation_cid
from onecrew.engine.log_feed import LogFeed
from onecrew.engine.persistence import Persistence
from onecrew.engine.publisher import Publisher
from onecrew.engine.questions import Questions
from onecrew.engine.readiness import until_all_open
from onecrew.engine.remotes import Remotes
from onecrew.engine.snapshots import snapshot_of
from onecrew.engine.sources import Sources
from onecrew.engine.supervisor import SUPERVISOR
from onecrew.errors import OnecrewError, Refused
from onecrew.log.happenings import Happening
from onecrew.log.logfile import log_path
from onecrew.network.outputs import Outputs
from onecrew.playback.codec import from_json, shift
from onecrew.playback.state import Playback
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved
from onecrew.standby.options import Options
from onecrew.standby.partner import Partner
from onecrew.standby.policy import Adopt, Decision, End, InControl, Play, Say, Standby
from onecrew.version import version

log = logging.getLogger(__name__)

FOLLOWED_S = 0.1
"""The first frame of what is followed has left so long after it was heard."""


class Engine:
    """A running engine. Make it, ``await run()`` it once. Times are monotonic seconds."""

    def __init__(
        self,
        files: Files,
        ready: Callable[[], None] | None,
        plan: Options | None = None,
        clock: Callable[[], float] = time.monotonic,
        warn: Callable[[str], None] = log.warning,
    ) -> None:
        """Loads the show and takes up what was playing; raises ``OnecrewError`` where that is impossible.

        ``ready`` is called once, when the first packet has left, commands can come, and everything that show
        and plan ask to be opened is open; until then ``warn`` takes a sentence for what cannot be. ``plan``:
        its part in a pair of engines, if it has one. ``ready`` is None where nobody waits for it.
        """
        self.files = files
        self._ready = ready
        self._warn = warn
        self._lit = asyncio.Event()
        """Its first packet has left; of a standby, the first that shows what it follows."""
        self._clock = clock
        self._persistence = Persistence(files, lambda remark: self._publisher.say(remark), self._saved)
        profiles = load_profiles(beside=files.show)
        resumed = self._persistence.resume(profiles, clock())
        self.desk: Desk = resumed.desk
        self._unsaved = resumed.unsaved
        self._standby = Standby(plan, in_charge=self._persistence.live.in_charge, profiles=profiles)
        self._partner = Partner(plan, self._standby, clock)
        cid = installation_cid(files.show)
        self._outputs = self._resumed_outputs(cid)
        self._frames = FrameLoop(
            self.desk,
            self._outputs,
            clock,
            sent=self._sent,
            passed=lambda before, at: self._log_feed.passed(before, self.desk, at),
        )
        self._publisher = Publisher(
            self.desk,
            self._state,
            clock,
            next_frame=lambda: self._frames.planned,
            carry_out=self._receive,
            answer=lambda topic, arguments: self._questions.answer(topic, arguments),
            keep=self._keep,
        )
        self._publisher.message = resumed.remark
        self.say = self._publisher.say
        self._sources = Sources(cid)
        self._log_feed = LogFeed(log_path(files.show), self.say)
        frames = self._frames
        self._remotes = Remotes(
            files, self._receive, frames.together, lambda: self.desk, frames.shown, self.say
        )
        self._questions = Questions(
            self.desk,
            files.show,
            self._log_feed,
            self._remotes,
            self._sources,
            self.carry_out,
            self._note,
            clock,
        )
        self._handed_over = False

    def _resumed_outputs(self, cid: UUID) -> Outputs:
        """The outputs of the show, which go on with the sequence numbers that were kept."""
        return Outputs(
            self._standby.wire(self.desk.show),
            self.desk.universes,
            cid,
            self._persistence.live.sequences(),
            self._clock(),
            artnet=self._standby.artnet,
        )

    # ── its life ────────────────────────────────────────────────────────────────────────────────

    async def run(self) -> None:
        """Lights, link, action — until a stop has faded to black and every stream is terminated."""
        loop = asyncio.get_running_loop()
        if self._unsaved:
            self._persistence.save(self.desk.show)
        self._frames.start()  # the light comes first: it is back before anybody can ask
        link = self._publisher.link
        port = await link.listen()
        announce(
            self.files.endpoint,
            Endpoint(str(self.files.show), port, link.token, os.getpid(), supervisor(), version()),
        )
        self._log_feed.begin(self.desk, self._clock(), loop.call_soon_threadsafe)
        self._remotes.follow(self.desk.show.remote)
        self._partner.works_on(self.desk.show, self.desk.profiles)
        await self._partner.open()
        beside = [
            loop.create_task(each(self._partner.decisions, self._decided)),
            loop.create_task(self._persistence.watch()),
        ]
        if self._ready is not None:
            beside.append(loop.create_task(self._tell_ready(self._ready)))
        if self._standby.main is None:
            self._lit.set()
        try:
            await self._frames.ended.wait()
        finally:
            for task in beside:
                task.cancel()
            await self._end()

    async def _tell_ready(self, ready: Callable[[], None]) -> None:
        await self._lit.wait()
        await until_all_open(lambda: {**self._remotes.not_open(), **self._partner.not_open()}, self._warn)
        ready()

    def stop(self, fade_s: float = 1.0) -> None:
        """Fades to black and ends."""
        now = self._clock()
        self._log_feed.stopping(fade_s, now)
        self.desk.fade_away(now, fade_s)
        self._frames.ends_at = now + fade_s
        self._frames.changed(now)

    def leave(self, *, confirmed: bool = True) -> None:
        """Ends this engine alone, as a signal asks: the light is handed to a standby, or goes black.

        Raises ``Refused`` where that has to be confirmed and is not.
        """
        if self._partner.followed and self._frames.ends_at is None:
            self._handed_over = True
            self._frames.ended.set()
        else:
            self.carry_out(Stop(confirmed=confirmed))

    async def _end(self) -> None:
        self._frames.close()
        self._remotes.close()
        self._sources.close()
        self._partner.close(handed_over=self._handed_over)
        live = self._persistence.live
        live.in_charge = False
        self._outputs.end(self._clock(), _sleep_until)
        live.note_sequences(self._outputs.sequences())
        if self._handed_over:
            await self._persistence.hand_over()
            goodbye = "the engine was ended, and a standby goes on with the light"
        else:
            unsaved = await self._persistence.finish()
            goodbye = "the engine was stopped, the lights are out"
            if unsaved:
                goodbye = f"{goodbye}; not saved yet, and kept for the next start: {unsaved}"
        self._log_feed.finish(self.desk, self._clock(), handed_over=self._handed_over)
        remove_endpoint(self.files.endpoint, os.getpid())
        await self._publisher.close(goodbye)

    # ── commands and questions ──────────────────────────────────────────────────────────────────

    def _receive(self, raw: dict[str, Any]) -> None:
        """Carries out a command from the link; raises ``OnecrewError`` with a sentence where it cannot."""
        command = parse_command(raw)
        try:
            self.carry_out(command)
        except OnecrewError:
            raise
        except Exception as error:
            log.exception("a command failed: %r", raw)
            raise Refused(
                "the engine failed at this command: see whether it took effect; its log says more"
            ) from error

    def carry_out(self, command: Command) -> None:
        """Carries out a command now; raises ``OnecrewError`` with a sentence where it cannot."""
        now = self._clock()
        self._standby.check(command)
        if isinstance(command, Stop):
            if not command.confirmed:
                ask_before_the_end(self.desk.playback, self._persistence.saved)
            self.stop(command.fade_s)
            return
        if self._frames.ends_at is not None:
            raise Refused("the engine is ending")
        if isinstance(command, Note):
            self._log_feed.note(command, self.desk, now)
            self.say(command.text)
            self._frames.plan(now)
            return
        if isinstance(command, TakeClip | TakeRecord):
            self.say(self._log_feed.record(command, self.desk, now))
            self._frames.plan(now)
            return
        if isinstance(command, RaiseSlots):
            self._raise_slots(command, now)
            return
        if isinstance(command, TakeOver):
            for decision in self._standby.take_over(command):
                self._decided(decision)
            return
        if isinstance(command, TakeStart):
            # A take begins with a frame that leaves at once, so that it always has the same ones.
            now = self._frames.earliest(now)
        self._frames.advance(now)
        before, revision, show = self.desk.playback, self.desk.revision, self.desk.show
        if isinstance(command, SettleFile):
            self._persistence.settle(command, self.desk)
        elif isinstance(command, BringBack):
            self._persistence.bring_back(command, self.desk)
        else:
            self.desk.carry_out(command, now)
        if isinstance(command, Undo):
            self.say(f"undone: {self.desk.redo_words}")
        elif isinstance(command, Redo):
            self.say(f"done again: {self.desk.undo_words}")
        self._log_feed.heard(command, before, revision, self.desk, now)
        if self.desk.revision != revision:
            self._show_changed(show)
        self._frames.changed(now)

    def _raise_slots(self, command: RaiseSlots, now: float) -> None:
        """Moves slots by hand; the log has where and from when, not each step."""
        sent = self.desk.universes
        begins = self.desk.raise_slots(command, now)
        if begins:
            place = f"universe {command.universe}, address {command.address}"
            said = f"{len(command.slots)} slots are raised by hand at {place}"
            self._log_feed.note(Note(text=said), self.desk, now)
        if self.desk.universes != sent:
            self._rewire()
        self._frames.changed(now)

    def _show_changed(self, before: Show) -> None:
        show = self.desk.show
        if show.output != before.output or show.rig != before.rig or show.name != before.name:
            self._rewire()
        self._remotes.follow(show.remote)
        self._partner.works_on(show, self.desk.profiles)
        self._persistence.save(show)

    def _rewire(self) -> None:
        """Has the outputs send by the settings of now."""
        show = self._standby.wire(self.desk.show)
        self._outputs.reconfigure(show, self.desk.universes, self._clock(), artnet=self._standby.artnet)

    def _decided(self, decision: Decision) -> None:
        """Carries out what this engine's part in a pair asks for."""
        match decision:
            case Say(sentence):
                self.say(sentence)
            case InControl(on):
                self._persistence.live.in_charge = on
                self._rewire()
                self._frames.changed(self._clock())
            case Adopt(show, profiles):
                before = self.desk.show
                self.desk.follow(show, profiles)
                self._show_changed(before)
                self._frames.changed(self._clock())
            case Play(playback, ahead_s):
                self.desk.playback = shift(
                    from_json(playback, self.desk.compiled), -ahead_s, remembering=True
                )
                self._frames.changed(self._clock())
                if not self._lit.is_set():
                    asyncio.get_running_loop().call_later(FOLLOWED_S, self._lit.set)
            case End():
                self.stop(0.0)

    def _note(self, happening: Happening) -> None:
        self._log_feed.happened(happening, self._clock())
        self._frames.plan(self._clock())

    # ── what follows from a frame ───────────────────────────────────────────────────────────────

    def _sent(self, now: float, moment: float | None) -> float:
        """Packets have left: what led to them is kept, logged and told."""
        self._persistence.live.note_sequences(self._outputs.sequences())
        self._keep()
        self._log_feed.frame(self.desk, now, moment, self._outputs.states)
        if moment is not None:
            self._publisher.changed()
        else:
            self._publisher.plan()
        return self._log_feed.due()

    def _keep(self) -> None:
        """Notes what plays where it outlives this engine, and tells those who stand by."""
        self._partner.plays(self.desk.playback)
        self._persistence.keep(self.desk, self._clock())

    def _saved(self, state: Saved) -> None:
        self._log_feed.saved(state)
        self._publisher.changed()

    def _state(self) -> tuple[dict[str, Any], Iterator[dict[str, Any]]]:
        """The state that clients receive."""
        return snapshot_of(
            self.desk,
            self._frames.shown(self._clock()),
            path=str(self.files.show),
            outputs=self._outputs.states(),
            saved=self._persistence.saved,
            remote=self._remotes.state(),
            standby=self._partner.state(),
            logged=self._log_feed.state,
            pids=(os.getpid(), supervisor()),
            message=self.desk.playback.remark or self.desk.playback.advice or self._publisher.message,
        )


def ask_before_the_end(playback: Playback, saved: Saved) -> None:
    """Raises ``Refused`` where an end would take away what somebody wanted to be sure of."""
    if playback.locked:
        raise Refused("the desk is locked, and this ends its light: unlock first, or confirm the end")
    if not saved.ok:
        raise Refused(f"the show is not saved ({saved.error}): fix that first, or confirm the end")


async def each(decisions: asyncio.Queue[Decision], act: Callable[[Decision], None]) -> None:
    """Carries out what is decided, one after the other; what fails stops neither the light nor the next."""
    while True:
        decision = await decisions.get()
        try:
            act(decision)
        except Exception:
            log.exception("what the other engine said could not be used")


def supervisor() -> int | None:
    """Process id of the supervisor; None where there is none, or none any more."""
    parent = os.getppid()
    return parent if os.environ.get(SUPERVISOR) == str(parent) else None


def _sleep_until(moment: float) -> float:
    time.sleep(max(0.0, moment - time.monotonic()))
    return time.monotonic()
