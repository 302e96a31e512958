"""Frame clock: which moment of the show each frame shows, and when it is made. Pure; times in seconds.

A frame is late by whatever the machine was doing, never by the same amount twice. So a frame does not show
the light of the moment at which it happens to be made: it shows that of its place on a grid, and the grid
runs from the command or the event that set the light in motion. Two runs of one take so consist of the same
frames, slot for slot, on any machine; what differs is the fraction of a frame by which each leaves late.

While the light moves, a frame is begun as long before its moment as making it takes at the least, so that it
leaves on the grid and not behind it.
"""

from __future__ import annotations

import math
from collections import deque

from onecrew.network.pacing import NEVER_S, PERIOD_S, ROUNDING_S

FRAME_S = 24_386 / 2**20
"""23.26 ms, 43 Hz: a little longer than the limit of 44 Hz allows, so that a late frame is caught up. A whole
number of the ticks in which playback counts elapsed time, so that it rounds alike at any time of day."""
LEAD_S = 0.008
"""A frame is begun this long before its moment at most."""
EVENT_LEAD_S = 0.012
"""The frame of an event is begun so long before its moment: nothing of it can be worked out ahead."""
REMEMBERED = 16
"""Frames whose making is remembered; the quickest of them says how long it takes at the least."""


class FrameClock:
    """The moments of one engine's frames."""

    def __init__(self, now: float) -> None:
        """The first frame is due at ``now``."""
        self.shown = -NEVER_S
        """The moment that the latest frame shows."""
        self._left = -NEVER_S
        self._asked: float | None = now
        self._taken = now
        self._lead = 0.0
        self._anew = True
        """The latest frame was made off the grid."""
        self._takes: deque[float] = deque(maxlen=REMEMBERED)

    @property
    def asked(self) -> bool:
        """Whether a frame was asked for that has not been made."""
        return self._asked is not None

    def earliest(self, now: float) -> float:
        """The first moment from ``now`` on that a frame may show: 1/44 s after the latest one left."""
        return max(now, self._left + PERIOD_S)

    def ask(self, now: float) -> float:
        """Has a frame made off the grid, which starts anew with it; returns the moment it will show."""
        self._asked = self.earliest(now)
        return self._asked

    def due(self, running: bool, event: float | None) -> float:
        """When to make the next frame; infinity if none is wanted.

        ``running``: the light moves, so the grid goes on. ``event``: when it is set in motion next.
        """
        moment = self._next(running, event)
        due = max(moment, self._left + PERIOD_S)
        if not running or self._asked is not None:
            return due
        return due - (self._lead if event is None or event > moment else EVENT_LEAD_S)

    def take(self, now: float, running: bool, event: float | None) -> float | None:
        """The moment that the frame made ``now`` shows, None if none is due; frames missed are left out."""
        if now + ROUNDING_S < self.due(running, event):
            return None
        moment = self._next(running, event)
        self.shown = moment + FRAME_S * max(0, math.floor((now - moment) / FRAME_S))
        self._anew = self._asked is not None
        self._asked = None
        self._taken = now
        return self.shown

    def expected(self, running: bool) -> float:
        """Until when a frame is sure to come, however late; minus infinity if none is on its way."""
        return self.shown + 2.0 * FRAME_S if running else -NEVER_S

    def made(self, now: float) -> None:
        """Notes that the frame is ready ``now``; it leaves at its moment, or later if 44 Hz ask for it."""
        if self._anew:
            self._takes.clear()  # what moves now may take longer than what moved before
        self._takes.append(now - self._taken)
        self._lead = min(min(self._takes), LEAD_S)
        if self._anew:
            self._takes.clear()  # and the first frame is like none of the rest
        self._left = max(self.earliest(now), self.shown)

    def _next(self, running: bool, event: float | None) -> float:
        if self._asked is not None:
            return self._asked
        if running:
            return self.shown + FRAME_S
        return NEVER_S if event is None else max(event, self.shown + FRAME_S)
