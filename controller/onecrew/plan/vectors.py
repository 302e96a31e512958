"""Directions on the plan and in the room. x to the right, y up the plan, z up from the floor."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray


def direction(aim_deg: float, tilt_deg: float = 0.0) -> FloatArray:
    """Unit vector (3,) of an aim clockwise from +y and a tilt above the horizontal, both in degrees."""
    aim, tilt = math.radians(aim_deg), math.radians(tilt_deg)
    return np.array([math.sin(aim) * math.cos(tilt), math.cos(aim) * math.cos(tilt), math.sin(tilt)])


def aim_of(vector: ArrayLike) -> tuple[float, float]:
    """(aim, tilt) in degrees of a vector (3,): the inverse of ``direction``."""
    x, y, z = np.asarray(vector, dtype=np.float64)
    return math.degrees(math.atan2(x, y)) % 360.0, math.degrees(math.atan2(z, math.hypot(x, y)))


def across(aim_deg: float, tilt_deg: float, roll_deg: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """(right, up) unit vectors of a flat thing that faces this way, turned by ``roll_deg`` on its axis."""
    aim = math.radians(aim_deg)
    right = np.array([math.cos(aim), -math.sin(aim), 0.0])
    up = np.cross(right, direction(aim_deg, tilt_deg))
    turn = math.radians(roll_deg)
    return (
        math.cos(turn) * right + math.sin(turn) * up,
        math.cos(turn) * up - math.sin(turn) * right,
    )


def unit(vector: ArrayLike) -> FloatArray:
    """The vector (3,) at length 1; straight up where it has no length."""
    array = np.asarray(vector, dtype=np.float64)
    length = float(np.linalg.norm(array))
    return array / length if length > 0.0 else np.array([0.0, 0.0, 1.0])
