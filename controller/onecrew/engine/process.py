"""Process: the engine as a process — the desk on a clock, the wire, the link, the files.

One thread, one event loop. A frame is: advance the desk, render, encode, hand the slots to the outputs, note
what was sent in the live state file. A command is carried out as it arrives and its frame leaves at once if
the 44 Hz limit allows. Snapshots for clients are built right after a frame, when there is time before the
next. Only saving happens in a thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import secrets
import time
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from onecrew.commands.models import AnyCommand, Note, Stop, TakeOver, TakeStart
from onecrew.commands.table import parse_command
from onecrew.engine.beat import Beat
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Endpoint, Files, remove_endpoint, write_endpoint
from onecrew.engine.installation import installation_cid
from onecrew.engine.journal import Journal
from onecrew.engine.keeper import Keeper
from onecrew.engine.link import Link
from onecrew.engine.protocol import pack
from onecrew.engine.queries import Answer, SlowAnswer, answer
from onecrew.engine.remotes import Remotes
from onecrew.engine.snapshots import snapshot_of
from onecrew.engine.sources import Sources
from onecrew.engine.supervisor import SUPERVISOR
from onecrew.errors import OnecrewError, Refused
from onecrew.log.logfile import log_path
from onecrew.network.outputs import Outputs
from onecrew.network.pacing import PERIOD_S
from onecrew.playback.events import next_event
from onecrew.playback.state import Playback
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved
from onecrew.standby.policy import Plan, Standby

log = logging.getLogger(__name__)

AGAIN_WITHIN_S = 5.0
"""A second Ctrl-C within this confirms the first."""
CLOCK_S = 0.2
"""How often clients are told of a countdown or an auto-follow while nothing else happens."""
REST_S = 1.0
"""Longest sleep of the loop: outputs are looked after at least this often."""


class Engine:
    """A running engine. Make it, ``await run()`` it once. Times are monotonic seconds."""

    def __init__(self, files: Files, ready: Callable[[], None], plan: Plan | None = None) -> None:
        """Loads the show and takes up what was playing; raises ``OnecrewError`` where that is impossible.

        ``ready`` is called once, when the first packet has left and commands can come. ``plan``: its part in
        a pair of engines, if it has one.
        """
        self.files = files
        self._ready = ready
        self._keeper = Keeper(files, self._say, self._saved)
        self._profiles = load_profiles(beside=files.show)
        now = self._clock()
        taken_up = self._keeper.take_up(self._profiles, now)
        self.desk: Desk = taken_up.desk
        self.message = taken_up.remark
        self._standby = Standby(plan, self._keeper.live, self, self._say, self._clock)
        cid = installation_cid(files.show)
        self._outputs = Outputs(
            self._standby.wire(self.desk.show),
            self.desk.encoder.universes,
            cid,
            self._keeper.live.sequences(),
            now,
            artnet=self._standby.artnet,
        )
        self._sources = Sources(cid)
        self._save_at_start = taken_up.unsaved
        self._journal = Journal(log_path(files.show), self._say)
        self._link = Link(secrets.token_urlsafe(24), self._hear, self._answer, self._latest, self._keep)
        self._remotes = Remotes(files, self._hear, self._together, lambda: self.desk, self._say)
        self._failed_at = -float("inf")
        self._stale = True
        """The desk changed since the last frame."""
        self._gathering = False
        """Commands are being carried out that belong into one frame."""
        self._was_moving = False
        self._beat = Beat(now)
        self._timer: asyncio.TimerHandle | None = None
        self._published_at = -float("inf")
        self._unpublished = True
        self._publish_timer: asyncio.TimerHandle | None = None
        self._sent_revision = 0
        self._ends_at: float | None = None
        self._handed_over = False
        self._interrupted_at = -AGAIN_WITHIN_S
        self._ended = asyncio.Event()

    # ── its life ────────────────────────────────────────────────────────────────────────────────

    async def run(self) -> None:
        """Lights, link, action — until a stop has faded to black and every stream is terminated."""
        if self._save_at_start:
            self._keeper.save(self.desk.show)
        self._frame()  # the light comes first: an engine that was killed is back before anybody can ask
        port = await self._link.listen()
        self._announce(Endpoint(str(self.files.show), port, self._link.token, os.getpid(), _supervisor()))
        if not self._standby.follows:
            self._ready()
        self._journal.begin(self.desk, self._clock(), asyncio.get_running_loop().call_soon_threadsafe)
        self._remotes.follow(self.desk.show.remote)
        await self._standby.open(self._ready)
        try:
            await self._ended.wait()
        finally:
            await self._end()

    def _announce(self, endpoint: Endpoint) -> None:
        """Tells clients where to find this engine; on a full disk again and again until there is room."""
        try:
            write_endpoint(self.files.endpoint, endpoint)
        except OSError as error:
            log.warning("no client can find this engine: %s (%s)", self.files.endpoint, error.strerror)
            asyncio.get_running_loop().call_later(REST_S, self._announce, endpoint)

    def stop(self, fade_s: float = 1.0) -> None:
        """Fades to black and ends."""
        now = self._clock()
        self._journal.stopping(fade_s, now)
        self.desk.fade_away(now, fade_s)
        self._ends_at = now + fade_s
        self._changed(now)

    def leave(self) -> None:
        """Ends this engine alone, as a signal asks: the light is handed to a standby, or goes black."""
        if self._standby.followed and self._ends_at is None:
            self._handed_over = True
            self._ended.set()
        else:
            self.stop()

    def interrupt(self) -> None:
        """Ends this engine as Ctrl-C asks; what a stop has to confirm, a second one soon after confirms."""
        now = self._clock()
        again, self._interrupted_at = now < self._interrupted_at + AGAIN_WITHIN_S, now
        try:
            if not again:
                self._ask_before_the_end()
        except Refused as refused:
            self._say(f"{refused}: Ctrl-C again confirms it")
        else:
            self.leave()

    async def _end(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._remotes.close()
        self._sources.close()
        self._standby.close(handed_over=self._handed_over)
        self._outputs.end(self._clock(), _sleep_until)
        self._keeper.live.note_sequences(self._outputs.sequences())
        if self._handed_over:
            await self._keeper.hand_over()
            goodbye = "the engine was ended, and a standby goes on with the light"
        else:
            unsaved = await self._keeper.finish()
            goodbye = "the engine was stopped, the lights are out"
            if unsaved:
                goodbye = f"{goodbye}; not saved yet, and kept for the next start: {unsaved}"
        self._journal.finish(self.desk, self._clock(), handed_over=self._handed_over)
        remove_endpoint(self.files.endpoint, os.getpid())
        self._link.publish(self._snapshot_line(self._clock()), self._clock(), droppable=False)
        await self._link.close(goodbye)

    # ── frames ──────────────────────────────────────────────────────────────────────────────────

    def _on_time(self) -> None:
        try:
            self._frame()
        except Exception:  # a bug must not stop the light
            now = self._clock()
            if now >= self._failed_at + REST_S:
                self._failed_at = now
                log.exception("a frame failed")
            self._go_on(now)

    def _go_on(self, now: float) -> None:
        """After a frame that failed: what was sent last goes on, and a stop still ends the engine."""
        self._plan_at(now + PERIOD_S)
        if self._ends_at is not None and now >= self._ends_at:
            self._ended.set()
        with contextlib.suppress(Exception):
            self._outputs.send(None, now)

    def _frame(self) -> None:
        """Sends what is due now and plans the next moment."""
        now = self._clock()
        desk = self.desk
        moment = self._beat.take(now, self._running, self._next_event())
        if moment is None:
            self._outputs.send(None, now)
        else:
            desk.line_up(moment)
            self._advance(moment)
            slots = desk.encoder.encode(desk.frame(moment))
            self._stale, self._was_moving = False, desk.moving(moment)
            self._unpublished = True
            now = self._clock()
            self._beat.made(now)
            self._outputs.send(slots, now)
            self._outputs.expect(self._beat.expected(self._was_moving))
        self._keeper.live.note_sequences(self._outputs.sequences())
        self._keep()
        self._journal.frame(desk, now, moment, self._outputs.states)
        if self._ends_at is not None and self._beat.shown >= self._ends_at:  # effects may run on in the dark
            self._ended.set()
            return
        self._plan(now)
        self._plan_publishing(now)

    @property
    def _running(self) -> bool:
        """Whether the beat goes on: the light moves, or a change waits for its frame."""
        return self._stale or self._was_moving

    def _next_event(self) -> float | None:
        """When something happens by itself, the end included."""
        event = next_event(self.desk.playback)
        if self._ends_at is None:
            return event
        return self._ends_at if event is None else min(event, self._ends_at)

    def _advance(self, now: float) -> None:
        """Runs what is due by itself, each thing at its own moment."""
        desk = self.desk
        while (due := next_event(desk.playback)) is not None and due <= now:
            before = desk.playback
            desk.advance(due)
            self._journal.passed(before, desk, due)

    def _plan(self, now: float) -> None:
        frame = self._beat.due(self._running, self._next_event())
        self._plan_at(min(self._outputs.next_due(now), now + REST_S, self._journal.due(), frame))

    def _plan_at(self, moment: float) -> None:
        """Sets the one timer. The loop's clock is the same monotonic clock."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_at(moment, self._on_time)

    def _changed(self, now: float) -> None:
        """The desk changed: its frame leaves at once, or as soon as the 44 Hz limit allows."""
        self._stale = True
        if self._gathering:
            return
        moment = self._beat.ask(now)
        if moment <= now:
            self._on_time()
        else:
            self._plan_at(moment)

    @contextlib.contextmanager
    def _together(self) -> Iterator[None]:
        """What is carried out inside changes the light in one frame."""
        self._gathering = True
        try:
            yield
        finally:
            self._gathering = False
            if self._stale:
                self._changed(self._clock())

    # ── commands and questions ──────────────────────────────────────────────────────────────────

    def _hear(self, raw: dict[str, Any]) -> None:
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

    def carry_out(self, command: AnyCommand) -> None:
        """Carries out a command now; raises ``OnecrewError`` with a sentence where it cannot."""
        now = self._clock()
        self._standby.before(command)
        if isinstance(command, Stop):
            if not command.confirmed:
                self._ask_before_the_end()
            self.stop(command.fade_s)
            return
        if self._ends_at is not None:
            raise Refused("the engine is ending")
        if isinstance(command, Note):
            self._journal.note(command, self.desk, now)
            self._say(command.text)
            self._plan_at(now)
            return
        if isinstance(command, TakeStart):
            # A take begins with a frame that leaves at once, so that it always has the same ones.
            now = max(self._beat.earliest(now), self._outputs.may_send_at())
        if isinstance(command, TakeOver):
            self._standby.take_over(command)
            return
        self._advance(now)
        before, revision, show = self.desk.playback, self.desk.revision, self.desk.show
        self.desk.carry_out(command, now)
        self._journal.heard(command, before, revision, self.desk, now)
        if self.desk.revision != revision:
            self._show_changed(show)
        self._changed(now)

    def _ask_before_the_end(self) -> None:
        """Raises ``Refused`` where an end would take away what somebody wanted to be sure of."""
        if self.desk.playback.locked:
            raise Refused("the desk is locked, and this ends its light: unlock first, or confirm the end")
        if not self._keeper.saved.ok:
            raise Refused(
                f"the show is not saved ({self._keeper.saved.error}): mend that first, or confirm the end"
            )

    def _show_changed(self, before: Show) -> None:
        show = self.desk.show
        if show.output != before.output or show.rig != before.rig or show.name != before.name:
            self.rewire()
        self._remotes.follow(show.remote)
        self._standby.kept_show()
        self._keeper.save(show)

    # ── what it does as the standby of another ──────────────────────────────────────────────────

    def adopt(self, show: Show, profiles: Mapping[str, Profile]) -> None:
        """Takes the show of the engine that it follows."""
        before = self.desk.show
        self.desk.follow(show, profiles)
        self._show_changed(before)
        self._changed(self._clock())

    def play(self, playback: Playback) -> None:
        """Plays what the engine that it follows plays."""
        self.desk.playback = playback
        self._changed(self._clock())

    def rewire(self) -> None:
        """Has the outputs send by the settings of now."""
        show = self._standby.wire(self.desk.show)
        self._outputs.reconfigure(
            show, self.desk.encoder.universes, self._clock(), artnet=self._standby.artnet
        )
        self._stale = True
        self._plan_at(self._beat.ask(self._clock()))

    # ── questions ───────────────────────────────────────────────────────────────────────────────

    def _answer(self, topic: str, arguments: dict[str, Any]) -> Answer | SlowAnswer:
        if topic == "log":
            return self._journal.lines(arguments)
        if topic == "moment":
            return self._journal.moment(self.desk, self._clock())
        if topic == "pair":
            return self._remotes.pair(arguments)
        if topic == "sources":
            return self._sources.answer(self.desk.show, self.desk.encoder.universes)
        return answer(topic, arguments, self.desk)

    # ── what clients see ────────────────────────────────────────────────────────────────────────

    def _snapshot_line(self, now: float) -> bytes:
        """The state of ``now``; while the light moves, that of the latest frame, so it never runs ahead."""
        now = self._beat.shown if self._running else now
        snapshot = snapshot_of(
            self.desk,
            now,
            path=str(self.files.show),
            outputs=self._outputs.states(),
            saved=self._keeper.saved,
            remote=self._remotes.state(),
            standby=self._standby.state(),
            logged=self._journal.state,
            pids=(os.getpid(), _supervisor()),
            message=self.desk.playback.remark or self.message,
        )
        return pack({"snapshot": snapshot})

    def _show_line(self) -> bytes:
        return b'{"show":%s}\n' % self.desk.show.model_dump_json(exclude_defaults=True).encode()

    def _latest(self) -> list[bytes]:
        return [self._show_line(), self._snapshot_line(self._clock())]

    def _plan_publishing(self, now: float) -> None:
        """Sets the timer for the next state: soon after a change, else now and then."""
        if not self._link.watched:
            return
        playback = self.desk.playback
        ticking = playback.countdown is not None or (playback.follow_at is not None and not playback.held)
        wait = self._link.interval_s()
        if not self._unpublished:
            wait = CLOCK_S if ticking else wait + REST_S
        due = max(now, self._published_at + wait)
        if self._publish_timer is not None:
            if self._publish_timer.when() <= due:
                return
            self._publish_timer.cancel()
        self._publish_timer = asyncio.get_running_loop().call_at(due, self._publish)

    def _publish(self) -> None:
        self._publish_timer = None
        now = self._clock()
        if self._sent_revision != self.desk.revision:
            self._link.publish(self._show_line(), now, droppable=False)
            self._sent_revision = self.desk.revision
        self._link.publish(self._snapshot_line(now), now, droppable=True)
        self._published_at = now
        self._unpublished = False
        self._plan_publishing(now)

    def _say(self, message: str) -> None:
        self.message = message
        log.info("%s", message)
        self._unpublished = True
        self._plan_publishing(self._clock())

    # ── files ───────────────────────────────────────────────────────────────────────────────────

    def _keep(self) -> None:
        """Notes what plays where it outlives this engine, and tells those who stand by."""
        self._standby.kept(self.desk.playback)
        self._keeper.keep(self.desk, self._clock())

    def _saved(self, state: Saved) -> None:
        self._journal.saved(state)
        self._unpublished = True
        self._plan_publishing(self._clock())

    def _clock(self) -> float:
        return time.monotonic()


def _supervisor() -> int | None:
    """Process id of the supervisor; None where there is none, or none any more."""
    parent = os.getppid()
    return parent if os.environ.get(SUPERVISOR) == str(parent) else None


def _sleep_until(moment: float) -> float:
    time.sleep(max(0.0, moment - time.monotonic()))
    return time.monotonic()
