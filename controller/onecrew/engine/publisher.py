"""Publisher: tells clients the state and the show, soon after a change and now and then in between.

A state is built between frames, a part at a time, when there is time before the next; once for all clients,
no more often than somebody asked for and than a share of the processor allows. Each client is sent what it
has not heard yet.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable, Iterator
from typing import Any

from onecrew.engine.changes import Changes
from onecrew.engine.desk import Desk
from onecrew.engine.idle_work import AFTER_S, IdleWork
from onecrew.engine.link import Ask, CarryOut, Link
from onecrew.network.json_lines import as_json

log = logging.getLogger(__name__)

TICK_S = 0.2
"""How often clients hear of a countdown or an auto-follow while nothing else happens."""
REST_S = 1.0
"""How often they hear anything while nothing happens, besides the interval they asked for."""
SHARE = 0.15
"""Building states takes this share of the time at most: with hundreds of lamps there are fewer a second."""

State = Callable[[], tuple[dict[str, Any], Iterator[dict[str, Any]]]]
"""The fields of ``Snapshot`` but ``lights``, and these, some at a time."""


class Publisher:
    """What the clients of one engine's link see. Times are monotonic seconds."""

    def __init__(
        self,
        desk: Desk,
        state: State,
        clock: Callable[[], float],
        *,
        next_frame: Callable[[], float],
        answering: Callable[[], bool],
        carry_out: CarryOut,
        answer: Ask,
        keep: Callable[[], None],
    ) -> None:
        """``state`` gives the state of now, ``next_frame`` when the next frame has its turn, ``answering``
        whether the frame of a change is being made; the rest is for ``Link``."""
        self._changes = Changes()
        self.link = Link(secrets.token_urlsafe(24), carry_out, answer, self._changes, self._watched, keep)
        self.message = ""
        """What was said last, until the next command is carried out."""
        self.said = 0
        """How many remarks there were."""
        self._heard = ""
        self._desk = desk
        self._state = state
        self._clock = clock
        self._next_frame = next_frame
        self._answering = answering
        self._stale = True
        """Something changed that watchers have not been told of."""
        self._idle_work = IdleWork(clock, next_frame)
        self._awaited = False
        """Somebody waits for the state after the one that is being built."""
        self._sent_at = -float("inf")
        self._owed_at = float("inf")
        """When a client wants the latest state that was not due it when the others were told."""
        self._show: tuple[int, bytes] = (0, b"")
        """The document as JSON, and the revision that it is of."""
        self._timer: asyncio.TimerHandle | None = None

    def changed(self) -> None:
        """What clients see has changed."""
        self._stale = True
        self.plan()

    def say(self, message: str) -> None:
        """A remark for every client and for the log."""
        self.message = message
        self.said += 1
        log.info("%s", message)
        self.changed()

    def hush(self) -> None:
        """Another command is carried out: what was said of those before is no news any more."""
        self.message = self._heard = ""
        self._desk.hush()

    def hear(self, remark: str) -> None:
        """Takes the playback's remark of now, which is said where it is another one."""
        if remark != self._heard:
            self._heard = self.message = remark
            self.said += bool(remark)

    def plan(self) -> None:
        """Sets the timer for the next state: soon after a change, else now and then."""
        if not self.link.watched or self._idle_work.busy:
            return
        wait = self.link.interval_s()
        if not self._stale:
            wait = TICK_S if self._ticking else wait + REST_S
        now = self._clock()
        moment = max(now, self._sent_at + max(wait, self._idle_work.whole_s / SHARE))
        if self._owed_at < moment:
            self._call(max(now, self._owed_at), self._tell)
        else:
            self._call(moment, self._begin)

    async def close(self, goodbye: str) -> None:
        """Tells everyone the last state, come what may, and says goodbye."""
        if self._timer is not None:
            self._timer.cancel()
        self._idle_work.leave()
        if self.link.watched:
            for _ in self._build():
                pass
            self.link.publish(self._clock(), to_all=True)
        await self.link.close(goodbye)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    @property
    def _ticking(self) -> bool:
        """Whether there is a time that runs down."""
        playback = self._desk.playback
        return playback.countdown is not None or (playback.follow_at is not None and not playback.held)

    def _watched(self) -> int:
        """Somebody starts watching: the state after the one of the number returned is the first for them."""
        self._stale = True
        self._awaited = self._idle_work.busy
        self._sent_at = -float("inf")
        self.plan()
        return self._changes.number + self._awaited

    def _begin(self) -> None:
        self._timer = None
        if self._answering():  # the light comes first, and most of what the state needs is known then
            self._call(self._next_frame() + AFTER_S, self._begin)
            return
        self._stale = False
        self._idle_work.begin(self._build(), self._built)

    def _built(self) -> None:
        now = self._clock()
        self._owed_at = self.link.publish(now)
        self._sent_at = -float("inf") if self._awaited else now
        self._awaited = False
        self.plan()

    def _tell(self) -> None:
        """Tells the state that there is to those who are due it by now."""
        self._timer = None
        self._owed_at = self.link.publish(self._clock())
        self.plan()

    def _build(self) -> Iterator[None]:
        """Builds a state of now; one that a change of the show overtakes is begun again."""
        while True:
            revision = self._desk.revision
            fields, parts = self._state()
            lights: dict[str, bytes] = {}
            for part in parts:
                lights |= {name: as_json(light) for name, light in part.items()}
                yield
                if self._desk.revision != revision:
                    break
            else:
                self._changes.take(self._show_now(), fields, lights)
                return

    def _show_now(self) -> bytes:
        if self._show[0] != self._desk.revision:
            document = self._desk.show.model_dump_json(exclude_defaults=True)
            self._show = (self._desk.revision, document.encode())
        return self._show[1]

    def _call(self, moment: float, act: Callable[[], None]) -> None:
        if self._timer is not None:
            if self._timer.when() <= moment:
                return
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_at(moment, act)
