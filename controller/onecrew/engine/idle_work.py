"""Idle work: work that waits for the frames: done in parts, each when there is time before the next frame."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable, Iterator

log = logging.getLogger(__name__)

AFTER_S = 1e-4
"""Work that was put off for a frame goes on so long after the frame is due: the frame's turn comes first."""
REMEMBERED = 0.98
"""What is left of the longest part at each that follows: among many short ones it is not forgotten."""
_OVER = object()


class IdleWork:
    """One kind of work beside the frames of an engine. Times are monotonic seconds."""

    def __init__(self, clock: Callable[[], float], next_frame: Callable[[], float]) -> None:
        """``next_frame`` says when the next frame has its turn."""
        self.whole_s = 0.0
        """What the latest work took in all."""
        self._clock = clock
        self._next_frame = next_frame
        self._work: Iterator[object] | None = None
        self._done: Callable[[], None] = lambda: None
        self._urgent = False
        self._longest_s = 0.0
        """The longest that a part took lately."""
        self._timer: asyncio.TimerHandle | None = None

    @property
    def busy(self) -> bool:
        """Whether there is work that is not done yet."""
        return self._work is not None

    def begin(
        self, work: Iterator[object], done: Callable[[], None] = lambda: None, *, urgent: bool = False
    ) -> None:
        """Does a part of ``work`` for each turn of the iterator, in place of what is not done yet.

        ``urgent``: no part waits for a frame.
        """
        self._work, self._done, self._urgent, self.whole_s = work, done, urgent, 0.0
        self._call(self._clock(), self._go_on)

    def leave(self) -> None:
        """Leaves what is not done."""
        self._work = None
        if self._timer is not None:
            self._timer.cancel()

    def _go_on(self) -> None:
        """Does a part if there is time for it before the next frame, else after that."""
        room = self._next_frame() - self._clock()
        if 0.0 < room < self._longest_s and not self._urgent:
            self._call(self._clock() + room + AFTER_S, self._part)
        else:
            self._part()

    def _part(self) -> None:
        work = self._work
        if work is None:
            return
        begun = time.perf_counter()
        try:
            over = next(work, _OVER) is _OVER
        except Exception:
            log.exception("work between frames failed")
            over = True
        took = time.perf_counter() - begun
        self._longest_s = max(took, REMEMBERED * self._longest_s)
        self.whole_s += took
        if over:
            self._work = None
            self._done()
        else:
            self._call(self._clock(), self._go_on)

    def _call(self, moment: float, act: Callable[[], None]) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_at(moment, act)
