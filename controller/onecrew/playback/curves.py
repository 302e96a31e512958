"""Curves: how a level travels over the time of a fade."""

from __future__ import annotations

import numpy as np

from onecrew.playback.frame import FloatArray

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
