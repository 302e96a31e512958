"""Blocking: which straight lines between two points pass through something that stands in the room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import BoolArray, FloatArray

CLEAR_M = 1e-3
"""What is nearer than this to an end of a line does not block it: a surface does not hide itself."""


@dataclass(frozen=True, slots=True)
class Block:
    """A box in any position: its middle, three unit axes in rows and half its size along each."""

    name: str
    middle: FloatArray
    axes: FloatArray
    half: FloatArray
    """(3,); an entry may be 0, for a flat thing."""

    def hides(self, start: FloatArray, end: FloatArray) -> BoolArray:
        """Which of the lines from ``start`` to ``end``, (…, 3) each and broadcast, pass through it."""
        here, there = (start - self.middle) @ self.axes.T, (end - self.middle) @ self.axes.T
        enter: FloatArray = np.float64(-np.inf)  # type: ignore[assignment]
        leave: FloatArray = np.float64(np.inf)  # type: ignore[assignment]
        square: FloatArray = np.float64(0.0)  # type: ignore[assignment]
        with np.errstate(divide="ignore", invalid="ignore"):
            for axis, half in enumerate(self.half):  # axis by axis: much quicker than along a last axis of 3
                way = there[..., axis] - here[..., axis]
                one, two = (-half - here[..., axis]) / way, (half - here[..., axis]) / way
                # A line in the plane of a face divides nought by nought; fmax and fmin pass over that.
                enter = np.fmax(enter, np.fmin(one, two))
                leave = np.fmin(leave, np.fmax(one, two))
                square = square + way * way
        margin = CLEAR_M / np.maximum(np.sqrt(square), CLEAR_M)
        return np.asarray((enter <= leave) & (leave > margin) & (enter < 1.0 - margin))


def clear(start: FloatArray, end: FloatArray, blocks: Sequence[Block]) -> FloatArray:
    """1 where nothing stands between ``start`` and ``end``, (…, 3) each and broadcast, else 0."""
    shape = np.broadcast_shapes(start.shape[:-1], end.shape[:-1])
    hidden = np.zeros(shape, dtype=bool)
    for block in blocks:
        hidden |= block.hides(start, end)
    return np.where(hidden, 0.0, 1.0)
