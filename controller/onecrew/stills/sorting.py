"""Sorting: which file shows which still, by their order, and by time where there are more files than
stills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake

_APART_S = 20.0
"""A camera's clock may be off by anything, but not otherwise for one still than for the next."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One file: its name, and when it was taken in seconds, by any clock."""

    name: str
    at_s: float


def sorted_into(files: Sequence[Taken], shots_s: Sequence[float]) -> list[str]:
    """Return the file of each still; ``shots_s`` is when each was called for, in seconds, rising.

    As many files as stills go by their order. Of more files, those are taken whose times lie as the stills'
    do, whatever the camera's clock says. Raises ``Mistake`` where files are missing or nothing fits.
    """
    files = sorted(files, key=lambda file: (file.at_s, file.name))
    wanted = len(shots_s)
    if len(files) < wanted:
        raise Mistake(
            f"there are {len(files)} pictures for {wanted} stills; copy the others as well, or take them"
        )
    if len(files) == wanted:
        return [file.name for file in files]
    times, shots = np.array([file.at_s for file in files]), np.asarray(shots_s, dtype=np.float64)
    best: tuple[float, list[int]] | None = None
    for first in range(len(files) - wanted + 1):
        found = _aligned(times[first:], shots - shots[0] + times[first])
        if found is not None and (best is None or found[0] < best[0]):
            best = (found[0], [first + i for i in found[1]])
    if best is None or best[0] > _APART_S * wanted:
        raise Mistake(
            f"there are {len(files)} pictures for {wanted} stills, and their times do not say which is "
            "which; remove the ones that are not stills"
        )
    return [files[i].name for i in best[1]]


def _aligned(times: FloatArray, shots: FloatArray) -> tuple[float, list[int]] | None:
    """The rising choice of times nearest to the shots' in sum, with that sum of seconds."""
    n, m = len(times), len(shots)
    if n < m:
        return None
    cost = np.abs(times[None, :] - shots[:, None])
    total = np.full((m + 1, n + 1), np.inf)
    total[0] = 0.0
    for i in range(1, m + 1):
        for j in range(i, n - m + i + 1):
            total[i, j] = min(total[i, j - 1], total[i - 1, j - 1] + cost[i - 1, j - 1])
    chosen, j = [], n
    for i in range(m, 0, -1):
        while total[i, j] == total[i, j - 1]:
            j -= 1
        chosen.append(j - 1)
        j -= 1
    return float(total[m, n]), chosen[::-1]
