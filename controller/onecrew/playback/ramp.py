"""Ramp: a value, or one value a lamp, on its straight way to another; and the curves that levels take."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

import numpy as np
from numpy.typing import ArrayLike

from onecrew.playback.fields import LONG_AGO, Per, array
from onecrew.playback.lights import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Ramp:
    """From ``start`` at time ``begin`` to ``goal`` at ``end`` (s); all arrays of one shape, () or (n,)."""

    start: Annotated[FloatArray, array(per=Per.OWNER)]
    goal: Annotated[FloatArray, array(per=Per.OWNER)]
    begin: Annotated[FloatArray, array(per=Per.OWNER, real=True, new=LONG_AGO)]
    end: Annotated[FloatArray, array(per=Per.OWNER, real=True, new=LONG_AGO)]
    settled_at: float = field(init=False)
    """Time from which nothing moves any more."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "settled_at", float(self.end.max(initial=LONG_AGO)))

    def at(self, now: float) -> FloatArray:
        """Return the value at ``now``; exactly the goal from ``end`` on."""
        if now >= self.settled_at:
            return self.goal
        span = np.maximum(self.end - self.begin, 1e-9)
        progress = np.clip((now - self.begin) / span, 0.0, 1.0)
        return np.where(now >= self.end, self.goal, self.start + (self.goal - self.start) * progress)

    def to(self, goal: ArrayLike, now: float, begin: ArrayLike, span_s: float) -> Ramp:
        """Return the ramp that leaves from where this one is at ``now`` and takes ``span_s`` from ``begin``.

        Where the goal is reached already, nothing moves.
        """
        start = self.at(now)
        goal = np.broadcast_to(np.asarray(goal, dtype=np.float64), start.shape)
        still = start == goal
        begin = np.where(still, now, begin)
        end = np.where(still, now, begin + span_s)
        return Ramp(start, goal, begin, end)


def rest(value: ArrayLike) -> Ramp:
    """Return a ramp that has long arrived at ``value``."""
    goal = np.asarray(value, dtype=np.float64)
    long_ago = np.full(goal.shape, LONG_AGO)
    return Ramp(goal, goal, long_ago, long_ago)


LINEAR, EASE, STOPS = 0, 1, 2
CURVES = {"linear": LINEAR, "ease": EASE, "stops": STOPS}

STOPS_FLOOR = 2.0**-10
"""Output below which nothing more is seen: ten stops under full, about the 0.1 % at which the dimming curve
of IEC 62386-102 ends. A fade in stops runs straight through what lies below, in the time of one stop."""


def ease(progress: FloatArray) -> FloatArray:
    """Return 3p² − 2p³ for progress 0–1: starts and ends at rest."""
    return progress * progress * (3.0 - 2.0 * progress)


def stops_above_floor(output: FloatArray) -> FloatArray:
    """Return the place of an output 0–1 on the scale of the stops curve, −1 (black) to 10 (full).

    Stops above ``STOPS_FLOOR``; below it a straight scale of one stop's length, so that black has a place.

    >>> stops_above_floor(np.array([0.0, 2.0**-10, 0.5, 1.0])).tolist()
    [-1.0, 0.0, 9.0, 10.0]
    """
    above = np.log2(np.maximum(output, STOPS_FLOOR) / STOPS_FLOOR)
    return np.where(output < STOPS_FLOOR, output / STOPS_FLOOR - 1.0, above)


def output_at_stops(stops: FloatArray) -> FloatArray:
    """Return the output at a place on the scale of the stops curve, the inverse of ``stops_above_floor``."""
    return STOPS_FLOOR * np.where(stops < 0.0, 1.0 + stops, np.exp2(stops))
