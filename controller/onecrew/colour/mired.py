"""Mired arithmetic: 10⁶/K, the scale on which equal steps look equal and gels add up."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray


def to_mired(cct_k: ArrayLike) -> FloatArray:
    """Mired of kelvin (...), which must be above 0."""
    return np.asarray(1e6 / _positive(cct_k, "a colour temperature"))


def to_kelvin(mired: ArrayLike) -> FloatArray:
    """Kelvin of mired (...), which must be above 0."""
    return np.asarray(1e6 / _positive(mired, "a mired value"))


def shift_between(from_k: ArrayLike, to_k: ArrayLike) -> FloatArray:
    """Mired shift that turns ``from_k`` into ``to_k`` kelvin; + is warmer.

    >>> round(float(shift_between(3200.0, 5600.0)), 2)
    -133.93
    """
    return np.asarray(to_mired(to_k) - to_mired(from_k))


def shifted(cct_k: ArrayLike, shift_mired: ArrayLike) -> FloatArray:
    """Kelvin of ``cct_k`` after a mired shift; ValueError when the shift passes infinite temperature."""
    return to_kelvin(to_mired(cct_k) + np.asarray(shift_mired, dtype=np.float64))


def _positive(values: ArrayLike, what: str) -> FloatArray:
    values = np.asarray(values, dtype=np.float64)
    for value in values[~(values > 0.0)].flat:
        raise ValueError(f"{what} must be above 0, got {value:g}")
    return values
