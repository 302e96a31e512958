"""Dimming laws: level ⇄ output, of one lamp and of a rig.

Level (0–1) is what the fixture's own display would show; output (0–1) is the fraction of full light that it
gives. The laws, each rising strictly from 0 to 1:

- ``linear``: output = level.
- ``square``: output = level² (the square law of stage dimmers: perceived brightness goes roughly with the
  square root of the light, IESNA Lighting Handbook, 9th edition).
- ``log``: the logarithmic curve of IEC 62386-102, percent = 10^((n − 1)/(253/3) − 1), with the level as the
  share of n = 1…254, n = 1 + 253·level, so output = 10^(3·(level − 1)). The curve ends at 0.1 %, and level 0
  is off. The two meet within the lowest 16-bit step (level below 1/65535), where output runs straight
  from 0 up to the curve: the law stays continuous and can be inverted everywhere.
- a table: straight lines between (level, output) points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray, IntArray
from onecrew.show.profile import Profile

Law = str | tuple[tuple[float, float], ...]
"""``"linear"``, ``"square"``, ``"log"``, or the (level, output) points of a table."""

LOG_END = 0.001
"""Least output of the log law above off (IEC 62386-102)."""
_LOG_DECADES = 3.0  # from there to full
_NONE = np.empty(0, dtype=np.int64)
_LOG_SEAM_LEVEL = 1.0 / 65535.0
_LOG_SEAM_OUTPUT = float(10.0 ** (_LOG_DECADES * (_LOG_SEAM_LEVEL - 1.0)))


def law_of(profile: Profile) -> Law:
    """Return the dimming law of a profile."""
    return profile.dimming_table if profile.dimming == "table" else profile.dimming


def clamped(values: ArrayLike) -> FloatArray:
    """Return ``values`` limited to 0–1; what is not a number becomes 0, so that a bug goes dark."""
    limited: FloatArray = np.fmin(np.fmax(np.asarray(values, dtype=np.float64), 0.0), 1.0)
    return limited


def output_of(level: ArrayLike, law: Law) -> FloatArray:
    """Return the fraction of full light, 0–1, that ``level`` gives; same shape, clamped to 0–1.

    ValueError for an unknown law.

    >>> float(output_of(0.5, "square"))
    0.25
    """
    level = clamped(level)
    if not isinstance(law, str):
        return _along(level, law, 0, 1)
    if law == "linear":
        return level
    if law == "square":
        return level * level
    if law == "log":
        curve = np.power(10.0, _LOG_DECADES * (level - 1.0))
        return np.where(level < _LOG_SEAM_LEVEL, level * (_LOG_SEAM_OUTPUT / _LOG_SEAM_LEVEL), curve)
    raise ValueError(f"unknown dimming law {law!r}: linear, square, log or a table")


def level_of(output: ArrayLike, law: Law) -> FloatArray:
    """Return the level, 0–1, that gives ``output``: the inverse of ``output_of``, clamped to 0–1.

    ValueError for an unknown law.
    """
    output = clamped(output)
    if not isinstance(law, str):
        return _along(output, law, 1, 0)
    if law == "linear":
        return output
    if law == "square":
        return np.sqrt(output)
    if law == "log":
        curve = 1.0 + np.log10(np.maximum(output, _LOG_SEAM_OUTPUT)) / _LOG_DECADES
        return np.where(output < _LOG_SEAM_OUTPUT, output * (_LOG_SEAM_LEVEL / _LOG_SEAM_OUTPUT), curve)
    raise ValueError(f"unknown dimming law {law!r}: linear, square, log or a table")


@dataclass(frozen=True, slots=True, eq=False)
class Laws:
    """The dimming laws of a rig in rig order; lamps that are in none of the groups are linear."""

    groups: tuple[tuple[IntArray, Law], ...]
    """(lamps, law) of each law there is."""

    @property
    def log(self) -> IntArray:
        """The lamps that dim by the log law, whose light ends at ``LOG_END``."""
        return next((lamps for lamps, law in self.groups if law == "log"), _NONE)

    def output(self, level: FloatArray) -> FloatArray:
        """Return the output 0–1 of every lamp at ``level`` (n,), 0–1. Never falls as the level rises."""
        result = level.copy()
        for lamps, law in self.groups:
            result[lamps] = output_of(level[lamps], law)
        return result

    def level(self, output: FloatArray) -> FloatArray:
        """Return the level 0–1 at which every lamp gives ``output`` (n,), 0–1: the inverse of ``output``."""
        result = output.copy()
        for lamps, law in self.groups:
            result[lamps] = level_of(output[lamps], law)
        return result


def laws_of(profiles: Sequence[Profile]) -> Laws:
    """Return the laws of a rig, given the profile of each lamp in rig order."""
    lamps: dict[Law, list[int]] = {}
    for index, profile in enumerate(profiles):
        lamps.setdefault(law_of(profile), []).append(index)
    lamps.pop("linear", None)
    return Laws(tuple((np.array(rows, dtype=np.int64), law) for law, rows in lamps.items()))


def _along(values: FloatArray, table: tuple[tuple[float, float], ...], known: int, wanted: int) -> FloatArray:
    columns = _columns(table)
    return np.asarray(np.interp(values, columns[known], columns[wanted]), dtype=np.float64)


@lru_cache(maxsize=64)
def _columns(table: tuple[tuple[float, float], ...]) -> FloatArray:
    """The levels and the outputs of a table, (2, k): asked again for every frame."""
    return np.array(table, dtype=np.float64).T.copy()
