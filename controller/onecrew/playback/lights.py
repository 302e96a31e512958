"""Lights: what every lamp does, as arrays; from and to documents; the frame that leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import BoolArray, FloatArray, with_one
from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.colour.locus_table import uv76_to_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xy, xy_to_uv76
from onecrew.playback.fields import array
from onecrew.show.light import Effect, Light, White

AnyArray = NDArray[Any]

MIRED, DUV, U, V = range(4)
"""Rows of ``Lights.colour``."""


@dataclass(frozen=True, slots=True, eq=False)
class Lights:
    """Level and colour of n lamps. The arrays are read-only by agreement.

    ``level`` (n,) is 0–1. ``colour`` (4, n) has the rows mired, Duv (CIE 1960), u′, v′ (CIE 1976): u′ and
    v′ always hold the chromaticity, mired and Duv hold it where ``white`` (n,) is true and are merely
    finite elsewhere.
    """

    level: Annotated[FloatArray, array()]
    white: Annotated[BoolArray, array(dtype=np.bool_, new=lambda _, compiled: compiled.natural.white)]
    colour: Annotated[FloatArray, array(4, new=lambda _, compiled: compiled.natural.colour)]

    def of_lamps(self, lamps: Sequence[int]) -> Lights:
        """Return the lights of these lamps (indices) alone."""
        return Lights(self.level[lamps], self.white[lamps], self.colour[:, lamps])


@dataclass(frozen=True, slots=True)
class Frame:
    """Lights in rig order; every array has shape (n,). Treat the arrays as read-only.

    Where ``white`` is true, ``mired`` (10⁶/K) and ``duv`` (CIE 1960 uv) are the colour and ``u``, ``v`` are
    not read; elsewhere the colour is the CIE 1976 chromaticity (``u``, ``v``) and ``mired``, ``duv`` are
    not read. Unread entries are finite. ``level`` is 0–1, master and blackout included.
    """

    level: FloatArray
    white: BoolArray
    mired: FloatArray
    duv: FloatArray
    u: FloatArray
    v: FloatArray

    def with_level(self, lamp: int, level: float) -> Frame:
        """Return the frame with one lamp at another level."""
        levels = with_one(self.level, lamp, level)
        return Frame(levels, self.white, self.mired, self.duv, self.u, self.v)

    def take(self, rows: slice | NDArray[np.intp]) -> Frame:
        """Return the lights of some of the lamps."""
        return Frame(*(getattr(self, field.name)[rows] for field in fields(self)))

    @staticmethod
    def joined(frames: Sequence[Frame]) -> Frame:
        """Return the lamps of some frames in one, those of the first frame first."""
        names = [field.name for field in fields(Frame)]
        return Frame(*(np.concatenate([getattr(frame, name) for frame in frames]) for name in names))


def lights_of(lights: Sequence[Light], natural: Lights) -> Lights:
    """Return documents' lights as arrays; a light without a colour takes its lamp's ``natural`` one."""
    level = np.array([light.level for light in lights], dtype=np.float64)
    white = natural.white.copy()
    colour = natural.colour.copy()
    whites = [i for i, light in enumerate(lights) if light.white is not None]
    coloured = [i for i, light in enumerate(lights) if light.xy is not None]
    if whites:
        asked = [lights[i].white for i in whites]
        colour[MIRED, whites] = [1e6 / w.cct_k for w in asked if w is not None]
        colour[DUV, whites] = [w.duv for w in asked if w is not None]
        white[whites] = True
        colour[U:, whites] = white_to_uv76_fast(colour[MIRED, whites], colour[DUV, whites]).T
    if coloured:
        colour[U:, coloured] = xy_to_uv76(np.array([lights[i].xy for i in coloured])).T
        white[coloured] = False
    return Lights(level, white, colour)


def natural_lights(xy: FloatArray, on_locus: BoolArray) -> Lights:
    """Return the lights of lamps at level 0 in the colours they have by nature.

    ``xy`` (n, 2) is CIE 1931; where ``on_locus`` the colour is moved to the nearest point of the Planckian
    locus. A colour that can be called a white (1000–25000 K, |Duv| ≤ 0.05) is one.
    """
    n = len(xy)
    uv = xy_to_uv76(xy) if n else np.empty((0, 2))
    mired, duv = uv76_to_white_fast(uv)
    duv = np.where(on_locus, 0.0, duv)
    again = white_to_uv76_fast(mired, duv)
    is_white = on_locus | (np.abs(again - uv).max(axis=-1, initial=0.0) < 1e-4)
    uv = np.where(is_white[:, None], again, uv)
    return Lights(np.zeros(n), is_white, np.vstack((mired, duv, uv.T)))


def with_chromaticity(lights: Lights) -> Lights:
    """Return the lights with u′ and v′ worked out anew where they are white."""
    if not lights.white.any():
        return lights
    colour = lights.colour.copy()
    where = np.flatnonzero(lights.white)
    colour[U:, where] = white_to_uv76_fast(colour[MIRED, where], colour[DUV, where]).T
    return Lights(lights.level, lights.white, colour)


def light_at(lights: Lights, index: int, effect: Effect | None) -> Light:
    """Return one lamp's light as a document has it, in numbers that a person can read."""
    level = float(min(max(lights.level[index], 0.0), 1.0))
    if lights.white[index]:
        cct_k = min(max(1e6 / float(lights.colour[MIRED, index]), CCT_MIN_K), CCT_MAX_K)
        duv = min(max(float(lights.colour[DUV, index]), -DUV_LIMIT), DUV_LIMIT)
        return Light(level=level, white=White(cct_k=cct_k, duv=duv), effect=effect)
    x, y = uv76_to_xy(lights.colour[U:, index]).tolist()
    return Light(level=level, xy=(x, y), effect=effect)
