"""Publisher: tells clients the state and the show, soon after a change and now and then in between.

States are built between frames, when there is time before the next, no more often than somebody asked for.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable
from typing import Any

from onecrew.engine.desk import Desk
from onecrew.engine.link import Ask, Carry, Link
from onecrew.network.lines import pack

log = logging.getLogger(__name__)

TICK_S = 0.2
"""How often clients hear of a countdown or an auto-follow while nothing else happens."""
REST_S = 1.0
"""How often they hear anything while nothing happens, besides the interval they asked for."""

State = Callable[[], dict[str, Any]]


class Publisher:
    """What the clients of one engine's link see. Times are monotonic seconds."""

    def __init__(
        self,
        desk: Desk,
        state: State,
        clock: Callable[[], float],
        *,
        carry_out: Carry,
        answer: Ask,
        keep: Callable[[], None],
    ) -> None:
        """``state`` gives the state of now in the shape of ``Snapshot``; the rest is for ``Link``."""
        self.link = Link(secrets.token_urlsafe(24), carry_out, answer, self._latest, keep)
        self.message = ""
        """The latest remark for every client."""
        self._desk = desk
        self._state = state
        self._clock = clock
        self._stale = True
        """Something changed that watchers have not been told of."""
        self._sent_at = -float("inf")
        self._sent_revision = 0
        self._timer: asyncio.TimerHandle | None = None

    def changed(self) -> None:
        """What clients see has changed."""
        self._stale = True
        self.plan()

    def say(self, message: str) -> None:
        """A remark for every client and for the log."""
        self.message = message
        log.info("%s", message)
        self.changed()

    def plan(self) -> None:
        """Sets the timer for the next state: soon after a change, else now and then."""
        if not self.link.watched:
            return
        wait = self.link.interval_s()
        if not self._stale:
            wait = TICK_S if self._ticking else wait + REST_S
        due = max(self._clock(), self._sent_at + wait)
        if self._timer is not None:
            if self._timer.when() <= due:
                return
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_at(due, self._publish)

    async def close(self, goodbye: str) -> None:
        """Tells everyone the last state, come what may, and says goodbye."""
        if self._timer is not None:
            self._timer.cancel()
        self.link.publish(self._state_line(), self._clock(), droppable=False)
        await self.link.close(goodbye)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    @property
    def _ticking(self) -> bool:
        """Whether there is a time that runs down."""
        playback = self._desk.playback
        return playback.countdown is not None or (playback.follow_at is not None and not playback.held)

    def _publish(self) -> None:
        self._timer = None
        now = self._clock()
        if self._sent_revision != self._desk.revision:
            self.link.publish(self._show_line(), now, droppable=False)
            self._sent_revision = self._desk.revision
        self.link.publish(self._state_line(), now, droppable=True)
        self._sent_at, self._stale = now, False
        self.plan()

    def _latest(self) -> list[bytes]:
        """What somebody who starts watching has to know."""
        return [self._show_line(), self._state_line()]

    def _state_line(self) -> bytes:
        return pack({"snapshot": self._state()})

    def _show_line(self) -> bytes:
        return b'{"show":%s}\n' % self._desk.show.model_dump_json(exclude_defaults=True).encode()
