"""Sets of emitters for the tests: invented, typical, and the awkward ones."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from onecrew.colour.spectra import bells, spectrum_to_xy

# Emitter spectra as bells (peak nm, full width at half maximum nm, height). Invented, typical figures.
BELLS: dict[str, list[tuple[float, float, float]]] = {
    "red": [(634, 18, 1.0)],
    "amber": [(600, 62, 1.0)],
    "lime": [(450, 18, 0.03), (550, 80, 1.0), (590, 90, 0.4)],
    "green": [(524, 34, 1.0)],
    "cyan": [(500, 30, 1.0)],
    "blue": [(455, 21, 1.0)],
    "warm": [(452, 20, 0.45), (545, 90, 0.45), (618, 92, 1.0)],
    "cool": [(452, 22, 1.0), (530, 92, 0.35), (600, 100, 0.33)],
}
FLUX = {
    "red": 420,
    "amber": 780,
    "lime": 1650,
    "green": 820,
    "cyan": 480,
    "blue": 150,
    "warm": 900,
    "cool": 950,
}


def kit(*names: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """xy (n, 2), flux (n,) and spectra (n, 471) of emitters by name."""
    spectra = np.array([bells(BELLS[name]) for name in names])
    return spectrum_to_xy(spectra), np.array([float(FLUX[name]) for name in names]), spectra


SIX = ("red", "amber", "lime", "green", "cyan", "blue")
RGBWW = ("red", "green", "blue", "warm", "cool")
EIGHT = (*SIX, "warm", "cool")


@st.composite
def emitters(draw: st.DrawFn, most: int = 8) -> tuple[np.ndarray, np.ndarray]:
    """xy and flux of 1 to ``most`` emitters, often with several on one line, in one point, or in a row."""
    count = draw(st.integers(1, most))
    seed = draw(st.integers(0, 2**32 - 1))
    shape = draw(st.sampled_from(("any", "line", "all on a line", "twins", "coarse")))
    rng = np.random.default_rng(seed)
    xy = rng.dirichlet((1.2, 1.2, 1.2), count)[:, :2] * 0.94 + 0.02
    on_line = {"line": int(rng.integers(1, count + 1)), "all on a line": count}.get(shape, 0)
    if on_line:
        ends = rng.dirichlet((1.2, 1.2, 1.2), 2)[:, :2] * 0.94 + 0.02
        xy[:on_line] = ends[0] + (ends[1] - ends[0]) * rng.uniform(0.0, 1.0, (on_line, 1))
    if shape == "twins":
        xy[rng.integers(0, count)] = xy[0]
    if shape == "coarse":
        xy = np.clip(np.round(xy, 1), 0.1, 0.4)
    return xy, rng.uniform(0.05, 3.0, count)
