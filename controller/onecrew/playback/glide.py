"""Glide: a value, or one value a lamp, on its straight way to another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from onecrew.playback.frame import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Glide:
    """From ``start`` at time ``begin`` to ``goal`` at ``end`` (s); all arrays of one shape, () or (n,)."""

    start: FloatArray
    goal: FloatArray
    begin: FloatArray
    end: FloatArray
    settled_at: float
    """Time from which nothing moves any more."""

    def at(self, now: float) -> FloatArray:
        """Return the value at ``now``; exactly the goal from ``end`` on."""
        if now >= self.settled_at:
            return self.goal
        span = np.maximum(self.end - self.begin, 1e-9)
        progress = np.clip((now - self.begin) / span, 0.0, 1.0)
        return np.where(now >= self.end, self.goal, self.start + (self.goal - self.start) * progress)

    def to(self, goal: ArrayLike, now: float, begin: ArrayLike, span_s: float) -> Glide:
        """Return the glide that leaves from where this one is at ``now`` and takes ``span_s`` from ``begin``.

        Where the goal is reached already, nothing moves.
        """
        start = self.at(now)
        goal = np.broadcast_to(np.asarray(goal, dtype=np.float64), start.shape)
        still = start == goal
        begin = np.where(still, now, begin)
        end = np.where(still, now, begin + span_s)
        return Glide(start, goal, begin, end, float(end.max(initial=now)))


def rest(value: ArrayLike) -> Glide:
    """Return a glide that has long arrived at ``value``."""
    goal = np.asarray(value, dtype=np.float64)
    long_ago = np.full(goal.shape, -1e18)
    return Glide(goal, goal, long_ago, long_ago, -1e18)
