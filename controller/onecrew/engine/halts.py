"""Halts: the times in which nothing could be sent, because nothing on the machine ran, this process was
stopped or the one before it had died. An engine learns of one by the turn of the frame loop that comes after
it."""

from __future__ import annotations

import time
from collections.abc import Callable

from onecrew.clock import since_boot
from onecrew.language import saying
from onecrew.log.happenings import Happening

LEAST_S = 1.0
"""A turn of the frame loop that comes later than this is told: what is shorter, a busy machine does too."""


def asleep() -> float:
    """Seconds that the machine has slept, counted from any moment. Where monotonic time stands still
    meanwhile, the light goes on after it where it was before."""
    return since_boot() - time.monotonic()


class Halts:
    """Judges every turn of the frame loop by the one before it. Times are monotonic seconds."""

    def __init__(self, asleep: Callable[[], float] = asleep) -> None:
        self._asleep = asleep
        self._slept = asleep()
        self._turn: float | None = None

    def turn(self, planned: float, now: float) -> Happening | None:
        """Takes a turn that was planned and comes now; returns what the log has to say of the time before.

        Also a loop at rest has a turn a second, since every destination is sent something that often.
        """
        slept = self._asleep()
        away, self._slept = slept - self._slept, slept
        before, self._turn = self._turn, now
        if before is None or away + now - planned < LEAST_S:
            return None
        return _halt(now - before + away, "the computer slept, was halted or had no time")


def without_engine(sent_at: float, now: float) -> Happening | None:
    """What the log has to say of the time between an engine that died and the next: the last frame of the one
    left at ``sent_at``, the first of the other now. An engine at rest is silent for nearly a second, too."""
    return None if now - sent_at < 2 * LEAST_S else _halt(now - sent_at, "no engine was running")


def _halt(seconds: float, why: str) -> Happening:
    gap_s = round(seconds, 1)
    text = f"no frames left for {saying.seconds(gap_s)} ({why})"
    return Happening("output", "halt", text, {"seconds": gap_s})
