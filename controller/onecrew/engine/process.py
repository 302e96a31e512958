"""Process: the engine as a process. It joins desk, control, frames, what outlives them, what clients see, and
the remotes.

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

from onecrew.commands.session import Stop
from onecrew.engine.control import Control
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Endpoint, Files, announce, remove_endpoint, stay_announced
from onecrew.engine.frames import FrameLoop
from onecrew.engine.halts import Halts
from onecrew.engine.installation import installation_cid
from onecrew.engine.libraries import give_back
from onecrew.engine.log_feed import LogFeed
from onecrew.engine.persistence import Persistence
from onecrew.engine.publisher import Publisher
from onecrew.engine.questions import Questions
from onecrew.engine.readiness import until_all_open
from onecrew.engine.remotes import Remotes
from onecrew.engine.snapshots import snapshot_of
from onecrew.engine.sources import Sources
from onecrew.engine.successors import SUPERVISOR
from onecrew.log.happenings import Happening
from onecrew.log.logfile import log_path
from onecrew.network.outputs import Outputs
from onecrew.show.hold import Hold
from onecrew.show.profiles import load_profiles
from onecrew.show.snapshot import Saved
from onecrew.standby.options import Options
from onecrew.standby.partner import Partner
from onecrew.standby.policy import Decision, Standby
from onecrew.version import VERSION

log = logging.getLogger(__name__)

FOLLOWED_S = 0.1
"""The first frame of what is followed has left so long after it was heard."""
GIVES_BACK_FIRST_S = 2.0
"""How soon what a start alone needed is given back."""
GIVES_BACK_S = 60.0
"""How often what is not needed at present is, after that: after a save and most questions much is."""


class Engine:
    """A running engine. Make it, ``await run()`` it once. Times are monotonic seconds."""

    def __init__(
        self,
        files: Files,
        ready: Callable[[], None] | None,
        plan: Options | None = None,
        clock: Callable[[], float] = time.monotonic,
        warn: Callable[[str], None] = log.warning,
        hold: Hold | None = None,
    ) -> None:
        """Loads the show and takes up what was playing; raises ``OnecrewError`` where that is impossible.

        ``ready`` is called once, when the first packet has left, commands can come, and everything that show
        and plan ask to be opened is open; until then ``warn`` takes a sentence for what cannot be. ``plan``:
        its part in a pair of engines, if it has one. ``ready`` is None where nobody waits for it. ``hold`` is
        the lock on the show's file.
        """
        self.files = files
        self._ready = ready
        self._warn = warn
        self._lit = asyncio.Event()
        """Its first packet has left; of a standby, the first that shows what it follows."""
        self._clock = clock
        self._persistence = Persistence(files, lambda remark: self._publisher.say(remark), self._saved, hold)
        profiles = load_profiles(beside=files.show)
        resumed = self._persistence.resume(profiles, clock())
        self.desk: Desk = resumed.desk
        self._unsaved = resumed.unsaved
        self._kept_at, self._sent_at = resumed.kept_at, resumed.sent_at
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
            answering=lambda: self._frames.answering,
            carry_out=lambda raw: self.control.receive(raw),
            answer=lambda topic, arguments: self._questions.answer(topic, arguments),
            keep=self._keep,
        )
        self._publisher.message = resumed.remark or ("" if hold is None else hold.remark)
        self.say = self._publisher.say
        self._sources = Sources(cid)
        self._log_feed = LogFeed(log_path(files.show), self.say, outliving=self._persistence.live)
        self._halts = Halts()
        self.control = self._made_control()
        frames = self._frames
        self._remotes = Remotes(
            files, self.control.receive_osc, frames.together, lambda: self.desk, frames.shown, self.say
        )
        self._questions = self._made_questions()
        self._handed_over = False

    def _made_control(self) -> Control:
        return Control(
            self.desk,
            self._frames,
            self._outputs,
            self._persistence,
            self._log_feed,
            self._standby,
            self._clock,
            say=self.say,
            hush=self._publisher.hush,
            show_changed=self._follow_show,
            followed=self._light_up,
        )

    def _made_questions(self) -> Questions:
        return Questions(
            self.desk,
            self.files.show,
            self._log_feed,
            self._remotes,
            self._sources,
            self.control.carry_out,
            self._note,
            self._clock,
        )

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
        endpoint = Endpoint(str(self.files.show), port, link.token, os.getpid(), supervisor(), VERSION)
        announce(self.files.endpoint, endpoint)
        self._log_feed.begin(
            self.desk, self._clock(), loop.call_soon_threadsafe, self._kept_at, self._sent_at
        )
        self._follow_show()
        await self._partner.open()
        beside = [
            loop.create_task(each(self._partner.decisions, self.control.decided)),
            loop.create_task(self._persistence.watch()),
            loop.create_task(stay_announced(self.files.endpoint, endpoint)),
            loop.create_task(self._give_back()),
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

    async def _give_back(self) -> None:
        """Gives back what was read once, again and again: about a millisecond."""
        wait_s = GIVES_BACK_FIRST_S
        while True:
            await asyncio.sleep(wait_s)
            wait_s = GIVES_BACK_S
            self._persistence.live.give_back()
            give_back()

    def leave(self, *, confirmed: bool = True) -> None:
        """Ends this engine alone, as a signal asks: the light is handed to a standby, or goes black.

        Raises ``Refused`` where that has to be confirmed and is not.
        """
        if self._partner.followed and self._frames.ends_at is None:
            self._handed_over = True
            self._frames.ended.set()
        else:
            self.control.carry_out(Stop(confirmed=confirmed))

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

    def _follow_show(self) -> None:
        """Has the remotes and those who stand by work on the show as it is."""
        self._remotes.follow(self.desk.show.remote)
        self._partner.works_on(self.desk.show, self.desk.profiles)

    def _light_up(self) -> None:
        """What another engine plays is played here; its first frame leaves in a moment."""
        if not self._lit.is_set():
            asyncio.get_running_loop().call_later(FOLLOWED_S, self._lit.set)

    def _note(self, happening: Happening) -> None:
        self._log_feed.happened(happening, self._clock())
        self._frames.plan(self._clock())

    # ── what follows from a frame ───────────────────────────────────────────────────────────────

    def _sent(self, now: float, moment: float | None) -> float:
        """Packets have left: what led to them is kept, logged and told."""
        live = self._persistence.live
        live.note_sequences(self._outputs.sequences())
        live.sent_at = now
        self._keep()
        halt = self._halts.turn(self._frames.planned, now)
        if halt is not None:
            self._log_feed.halted(halt, now)
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
        self._publisher.hear(self.desk.playback.remark or self.desk.playback.advice)
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
            message=(self._publisher.message, self._publisher.said),
        )


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
