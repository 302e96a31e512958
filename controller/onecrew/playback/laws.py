"""Laws: level ⇄ output of a whole rig at once, each lamp by the dimming law of its profile.

Output is the fraction of full light. ``linear`` gives output = level; ``square`` output = level² (IESNA
Lighting Handbook, 9th edition); ``log`` the curve of IEC 62386-102, output = 10^(3·(level − 1)) down to
0.1 %, with a straight piece to 0 within the lowest 16-bit step; a table runs straight between its points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.playback.lights import FloatArray
from onecrew.show.profile import Profile

IntArray = NDArray[np.int64]

_DECADES = 3.0
_SEAM_LEVEL = 1.0 / 65535.0
_SEAM_OUTPUT = float(10.0 ** (_DECADES * (_SEAM_LEVEL - 1.0)))


@dataclass(frozen=True, slots=True, eq=False)
class Laws:
    """The dimming laws of a rig in rig order; lamps that are in none of the groups are linear."""

    square: IntArray
    log: IntArray
    tables: tuple[tuple[IntArray, FloatArray, FloatArray], ...]
    """(lamps, levels, outputs) of each distinct table."""

    def output(self, level: FloatArray) -> FloatArray:
        """Return the output 0–1 of every lamp at ``level`` (n,), 0–1. Never falls as the level rises."""
        result = level.copy()
        if self.square.size:
            result[self.square] **= 2
        if self.log.size:
            at = level[self.log]
            low = at * (_SEAM_OUTPUT / _SEAM_LEVEL)
            result[self.log] = np.where(at < _SEAM_LEVEL, low, 10.0 ** (_DECADES * (at - 1.0)))
        for lamps, levels, outputs in self.tables:
            result[lamps] = np.interp(level[lamps], levels, outputs)
        return result

    def level(self, output: FloatArray) -> FloatArray:
        """Return the level 0–1 at which every lamp gives ``output`` (n,), 0–1: the inverse of ``output``."""
        result = output.copy()
        if self.square.size:
            result[self.square] = np.sqrt(output[self.square])
        if self.log.size:
            at = output[self.log]
            low = at * (_SEAM_LEVEL / _SEAM_OUTPUT)
            high = 1.0 + np.log10(np.maximum(at, _SEAM_OUTPUT)) / _DECADES
            result[self.log] = np.where(at < _SEAM_OUTPUT, low, high)
        for lamps, levels, outputs in self.tables:
            result[lamps] = np.interp(output[lamps], outputs, levels)
        return result


def laws_of(profiles: Sequence[Profile]) -> Laws:
    """Return the laws of a rig, given the profile of each lamp in rig order."""
    tables: dict[tuple[tuple[float, float], ...], list[int]] = {}
    for index, profile in enumerate(profiles):
        if profile.dimming == "table":
            tables.setdefault(profile.dimming_table, []).append(index)
    return Laws(
        square=_where(profiles, "square"),
        log=_where(profiles, "log"),
        tables=tuple(
            (
                np.array(lamps, dtype=np.int64),
                np.array([p[0] for p in points]),
                np.array([p[1] for p in points]),
            )
            for points, lamps in tables.items()
        ),
    )


def _where(profiles: Sequence[Profile], law: str) -> IntArray:
    return np.array([i for i, profile in enumerate(profiles) if profile.dimming == law], dtype=np.int64)
