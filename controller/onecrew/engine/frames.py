"""Frames: the loop that makes light. It advances the desk, renders, encodes and sends, frame by frame.

A change leaves at once if the 44 Hz limit allows; frames of a light that moves by itself are worked out
ahead. What else follows from a frame (keeping, logging, telling clients) is done by whoever is called back
when it was sent.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from onecrew.engine.desk import Desk
from onecrew.engine.frame_clock import FrameClock
from onecrew.engine.idle_work import IdleWork
from onecrew.fixtures.packing import ByteArray
from onecrew.network.outputs import Outputs
from onecrew.network.pacing import PERIOD_S, ROUNDING_S
from onecrew.playback.single_lamp import worked_out
from onecrew.playback.state import Playback

log = logging.getLogger(__name__)

REST_S = 1.0
"""Longest sleep of the loop: outputs are looked after at least this often."""

PATIENCE_S = 0.003
"""The frame of a change is waited for so long beyond its time."""
INSTEAD = 2
"""After that so many of the frames that it made void are sent, as long as its own is not ready: on a busy
machine the work may take longer than a frame."""

Sent = Callable[[float, float | None], float]
"""Takes when packets have left and the moment of what plays that they show, None if they show none; says by
when it wants to be called again."""
Passed = Callable[[Playback, float], None]
"""Takes the playback before something happened by itself, and when that was."""


class FrameLoop:
    """Sends the light of one desk. Times are monotonic seconds; the event loop's clock is the same one."""

    def __init__(
        self, desk: Desk, outputs: Outputs, clock: Callable[[], float], *, sent: Sent, passed: Passed
    ) -> None:
        self.ended = asyncio.Event()
        """The moment of the end has been sent."""
        self.ends_at: float | None = None
        """The frame of this moment is the last; None: there is no end yet."""
        self.planned = clock()
        """When it has its next turn."""
        self._desk = desk
        self._outputs = outputs
        self._clock = clock
        self._sent = sent
        self._passed = passed
        self._frame_clock = FrameClock(clock())
        self._idle_work = IdleWork(clock, lambda: self.planned)
        self._stale = True
        """The desk changed since the last frame."""
        self._answered = False
        """The latest frame was that of a change."""
        self._making: float | None = None
        """The moment of a change whose frame is being made."""
        self._instead: list[ByteArray] = []
        """The slots that would have been sent next if there were no change."""
        self._gathering = False
        """Commands are being carried out that belong into one frame."""
        self._was_moving = False
        self._played = desk.plays
        """What the latest frame shows a moment of."""
        self._seen = clock()
        """The moment that the latest frame that left shows."""
        self._held: float | None = None
        """The moment of a frame that is ready and has not left: making it took less time than was allowed."""
        self._early: tuple[ByteArray, Sequence[int]] | None = None
        """The slots and universes of that one where its moment, too, is still to come."""
        self._leaves_at = 0.0
        """When that one leaves."""
        self._failed_at = -float("inf")
        self._timer: asyncio.TimerHandle | None = None

    def start(self) -> None:
        """Sends the first frame; what makes that impossible is raised."""
        self._frame()

    def changed(self, now: float) -> None:
        """The desk changed at ``now``: its frame leaves at once, or as soon as the 44 Hz limit allows."""
        self._stale = True
        if self._gathering:
            return
        many = self._answered or self._frame_clock.asked
        self._making, self._instead = None, []
        self._idle_work.leave()
        moment = self._frame_clock.ask(now)
        # Each of many changes would make the one before void.
        if self._was_moving and not many and self.ends_at is None:
            self._instead = self._desk.slots_instead(
                worked_out(self._played), self._frame_clock.shown, INSTEAD
            )
        if moment <= now and not self._instead:
            self._on_time()
            return
        self._plan_frame(moment)
        if not many:
            self._making = moment
            self._idle_work.begin(self._desk.making(moment), self._made, urgent=True)

    @contextlib.contextmanager
    def together(self) -> Iterator[None]:
        """What is carried out inside changes the light in one frame."""
        self._gathering = True
        try:
            yield
        finally:
            self._gathering = False
            if self._stale:
                self.changed(self._clock())

    def advance(self, now: float) -> None:
        """Runs what is due by itself, each thing at its own moment."""
        desk = self._desk
        while (due := desk.next_of_playback()) is not None and due <= now:
            before = desk.playback
            desk.advance(due)
            self._passed(before, due)

    def earliest(self, now: float) -> float:
        """The first moment from ``now`` on at which a frame may leave."""
        return max(self._frame_clock.earliest(now), self._outputs.may_send_at())

    def begins(self, now: float) -> float:
        """When a command of ``now`` takes effect: not before the moment of a frame that is ready, which shows
        what happened by itself until then."""
        return max(now, self._frame_clock.shown)

    def shown(self, now: float) -> float:
        """The moment that clients see: while the light moves that of the latest frame that left, so that a
        state never runs ahead of the light."""
        return self._seen if self._running or self._held is not None else now

    def plan(self, moment: float) -> None:
        """Sets the one timer: a frame that is ready leaves before whatever else is planned."""
        if self._timer is not None:
            self._timer.cancel()
        self.planned = moment = moment if self._held is None else min(moment, self._leaves_at)
        self._timer = asyncio.get_running_loop().call_at(moment, self._on_time)

    @property
    def answering(self) -> bool:
        """Whether the frame of a change is being made."""
        return self._making is not None

    def close(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._idle_work.leave()

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _made(self) -> None:
        """The frame of a change is ready."""
        if self._making is not None and self._frame_clock.asked:
            self._plan_frame(self._making)
        self._making, self._instead = None, []

    def _plan_frame(self, moment: float) -> None:
        """Sets the timer for the frame of a change; slots that the 44 Hz limit holds back leave before it."""
        self.plan(min(moment, self._outputs.next_due(self._clock())))

    def _waits_until(self, now: float) -> float | None:
        """When there is no more time to make the frame of a change; None if none is waited for."""
        if self._making is None or not self._instead or not self._frame_clock.asked:
            return None
        until = self._making + PATIENCE_S
        return until if now < until else None

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
        """After a frame that failed: what was sent last goes on, the frame is tried again, and an end still
        comes."""
        self._stale, self._held, self._early = True, None, None
        self.plan(now + PERIOD_S)
        if self.ends_at is not None and now >= self.ends_at:
            self.ended.set()
        with contextlib.suppress(Exception):
            self._outputs.send(None, now)

    def _frame(self) -> None:
        """Sends what is due now and plans the next moment."""
        now = self._clock()
        desk = self._desk
        moment, instead = None, False
        until = self._waits_until(now)
        if until is None:
            moment = self._frame_clock.take(now, self._running, self._next_event())
        if moment is None:
            self._outputs.send(self._ready_before(now), now)
        else:
            desk.line_up(moment)
            self.advance(moment)
            instead = bool(self._instead)
            self._answered, self._stale = self._stale, instead
            if instead:
                slots = self._instead.pop(0)
            else:
                slots, self._making, self._played = desk.slots(moment), None, desk.plays
            now = self._clock()
            self._held = None if instead else moment
            self._leaves_at = max(self.earliest(now), moment)
            early = not instead and now + ROUNDING_S < moment and self.ends_at is None
            self._early = (slots, desk.universes) if early else None
            self._outputs.send(None if early else slots, now)
            self._frame_clock.made(now)
            self._was_moving = desk.moving(moment)
            self._outputs.expect(self._frame_clock.expected(self._was_moving))
        again = self._sent(now, self._left(now))
        # Effects may run on in the dark; a frame made before the end was known is not the last.
        if self.ends_at is not None and self._frame_clock.shown >= self.ends_at and not self._stale:
            self.ended.set()
            return
        frame = self._frame_clock.due(self._running, self._next_event()) if until is None else until
        self.plan(min(self._outputs.next_due(now), now + REST_S, again, frame))
        if self._making is None and not self._idle_work.busy:
            work = desk.work_ahead(self._frame_clock.shown)
            if work is not None:
                self._idle_work.begin(work)

    def _ready_before(self, now: float) -> ByteArray | None:
        """The slots of a frame that was ready before its moment, if that has come; black in a universe that
        came meanwhile."""
        if self._early is None or now + ROUNDING_S < self._leaves_at:
            return None
        (slots, universes), self._early = self._early, None
        if universes == self._desk.universes:
            return slots
        rows = [universes.index(u) if u in universes else -1 for u in self._desk.universes]
        return np.pad(slots, ((0, 1), (0, 0)))[rows]

    def _left(self, now: float) -> float | None:
        """The moment of the frame that has left now; None where that was told, or is still to come."""
        if self._held is None or now + ROUNDING_S < self._leaves_at:
            return None
        self._seen, self._held = self._held, None
        return self._seen

    @property
    def _running(self) -> bool:
        """Whether the clock goes on: the light moves, or a change waits for its frame."""
        return self._stale or self._was_moving

    def _next_event(self) -> float | None:
        """When something happens by itself, the end included."""
        event = self._desk.next_event(self._frame_clock.shown)
        if self.ends_at is None:
            return event
        return self.ends_at if event is None else min(event, self.ends_at)
