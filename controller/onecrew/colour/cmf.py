"""CIE 1931 2° colour-matching functions on the grid that every spectrum here shares: 1 nm, 360–830 nm."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from onecrew.colour.arrays import FloatArray

SHORTEST_NM = 360
LONGEST_NM = 830
COUNT = LONGEST_NM - SHORTEST_NM + 1


def read_table(name: str) -> FloatArray:
    """Numbers of a bundled table, one row a wavelength; lines that start with # are comments."""
    text = (Path(__file__).parent / "data" / name).read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line and not line.startswith("#")]
    return np.array(",".join(rows).split(","), dtype=np.float64).reshape(len(rows), -1)


@lru_cache(maxsize=1)
def wavelengths_nm() -> FloatArray:
    """Wavelengths of the grid in nm, shape (471,)."""
    grid = np.arange(SHORTEST_NM, LONGEST_NM + 1, dtype=np.float64)
    grid.flags.writeable = False
    return grid


@lru_cache(maxsize=1)
def matching_functions() -> FloatArray:
    """x̄, ȳ, z̄ of the CIE 1931 2° observer, shape (471, 3), read-only. Source: data/README.md."""
    table = read_table("cie_1931_2_degree.csv")
    functions = np.ascontiguousarray(table[:, 1:])
    functions.flags.writeable = False
    return functions
