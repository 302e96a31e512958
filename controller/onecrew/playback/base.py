"""Base: where the lamps are along their movement, before effects and before what dims them all."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from onecrew.playback.curves import EASE, STOPS, ease, output_at_stops
from onecrew.playback.frame import FloatArray
from onecrew.playback.lights import Lights, with_chromaticity
from onecrew.playback.score import Score
from onecrew.playback.state import COLOUR, LEVEL, Movement

_TICKS = 2.0**20
"""Elapsed time is rounded to about a microsecond, so that a replay at another time of day, whose seconds
carry other rounding errors, gives the same numbers."""


def progress_at(movement: Movement, time: float) -> FloatArray:
    """Return the share (3, n) of each movement of level, colour and effect done at show ``time``, 0–1."""
    elapsed = np.rint((time - movement.begin) * _TICKS)
    span = np.maximum((movement.end - movement.begin) * _TICKS, 1e-3)
    progress: FloatArray = np.clip(elapsed / span, 0.0, 1.0)
    progress[time >= movement.end] = 1.0
    return progress


def base_at(movement: Movement, progress: FloatArray, score: Score) -> Lights:
    """Return level and colour of every lamp, given ``progress_at``; u′ and v′ of whites may be stale."""
    start, goal = movement.start, movement.goal
    along = progress[LEVEL]
    curve = movement.curve
    eased = np.where(curve == EASE, ease(along), along) if (curve == EASE).any() else along
    level = start.level + (goal.level - start.level) * eased
    by_stops = curve == STOPS
    if by_stops.any():
        place = movement.stops[0] + (movement.stops[1] - movement.stops[0]) * along
        by_law = score.laws.level(np.clip(output_at_stops(place), 0.0, 1.0))
        level = np.where(by_stops & (along > 0.0), by_law, level)
    done = along >= 1.0
    level = np.where(done, goal.level, level)
    along = progress[COLOUR]
    done = along >= 1.0
    colour = np.where(done, goal.colour, start.colour + (goal.colour - start.colour) * along)
    white = np.where(done, goal.white, np.where(along > 0.0, movement.by_white, start.white))
    return Lights(level, white, colour)


@lru_cache(maxsize=1)
def showing(movement: Movement, time: float, score: Score) -> Lights:
    """Return level and colour of every lamp at show ``time``, whole: the start of the next movement.

    One command asks several times, hence the memory of one answer.
    """
    if time >= movement.settled_at:
        return movement.goal
    return with_chromaticity(base_at(movement, progress_at(movement, time), score))
