"""Blend: what one lamp's stills give for any white of it — a non-negative blend of two, and the rest as a
tint.

The blend is the point of the line between the two stills' chromaticities that lies nearest to the white, at
its light. What is left to the white, which lies off the line, is von Kries scaling in the cone space of
CAT16, whose responses are near a camera's own (Li et al. 2017, Color Res. Appl. 42:703).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.adaptation import CAT16, RGB_FROM_XYZ
from onecrew.colour.arrays import FloatArray
from onecrew.stills.kit import LampWhite

_TO_RGB = RGB_FROM_XYZ @ np.linalg.inv(CAT16)
_TO_CONES = np.linalg.inv(_TO_RGB)


@dataclass(frozen=True, slots=True, eq=False)
class Blend:
    """Shares of a lamp's stills (each at output 1), then a matrix on linear RGB."""

    shares: FloatArray
    """(stills,), at or above 0."""
    tint: FloatArray
    """(3, 3); rgb @ tint.T."""

    def of(self, pictures: NDArray[Any]) -> FloatArray:
        """Return the picture (…, 3) blended from stills (stills, …, 3)."""
        mixed: FloatArray = np.tensordot(self.shares, pictures, axes=1) @ self.tint.T
        return mixed


def blend(wanted: LampWhite, stills: Sequence[LampWhite]) -> Blend:
    """Return the blend of ``stills`` that gives what is ``wanted``, both at full output."""
    shares = np.zeros(len(stills))
    whites = np.array([still.mired or 0.0 for still in stills])
    order = np.argsort(whites, kind="stable")
    place = int(np.searchsorted(whites[order], wanted.mired or 0.0))
    if len(stills) == 1:
        pair = [0]
    else:
        place = min(max(place, 1), len(stills) - 1)
        pair = [int(order[place - 1]), int(order[place])]
    ends = np.array([stills[i].xyz for i in pair])
    parts = _parts(ends, wanted.xyz)
    parts *= wanted.xyz[1] / max(float(parts @ ends[:, 1]), 1e-12)
    shares[pair] = parts
    cones, mixed = CAT16 @ wanted.xyz, CAT16 @ (parts @ ends)
    gains = np.clip(cones / np.maximum(mixed, 1e-9), 0.2, 5.0)
    return Blend(shares, _TO_RGB @ (gains[:, None] * _TO_CONES))


def _parts(ends: FloatArray, wanted: FloatArray) -> FloatArray:
    """Non-negative parts (1 or 2) of the ends whose sum lies nearest in CIE 1976 chromaticity."""
    if len(ends) == 1:
        return np.ones(1)
    weights = ends @ np.array([1.0, 15.0, 3.0])
    points = np.stack((4.0 * ends[:, 0], 9.0 * ends[:, 1]), axis=1) / weights[:, None]
    aim = np.array([4.0 * wanted[0], 9.0 * wanted[1]]) / float(wanted @ np.array([1.0, 15.0, 3.0]))
    along = points[1] - points[0]
    length = float(along @ along)
    share = min(max(float((aim - points[0]) @ along) / length, 0.0), 1.0) if length > 1e-12 else 0.5
    return np.asarray(np.array([1.0 - share, share]) / weights)
