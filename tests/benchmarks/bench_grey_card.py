"""The camera as the meter: how far two lamps differ on drawn cameras before a run of grey cards, and after.

Lamps, camera, look, noise and light of each case are drawn by its seed; the stills are written and read as
files. Every third camera is one of the two published sensors in colour-science, the rest are invented. What
the module reckons with was chosen by other seeds.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from tests.benchmarks.report import Row
from tests.stills.test_camera_meter import Trial

CASES = 90
FIRST_SEED = 910_000
NOISES = (0.005, 0.01, 0.02, 0.04)
OFF = (0.2, 0.5, 1.0)
"""How far a lamp is from its profile; the other lamp is half as far off as the farthest."""
LIGHT = 0.18


def rows() -> Iterable[Row]:
    for name, as_bright in (
        ("as bright under both, as the guided run takes it", True),
        ("as bright as it is", False),
    ):
        pairs = np.array([case(FIRST_SEED + number, as_bright) for number in range(CASES)])
        before, after = pairs.mean(axis=0)
        worse = pairs[:, 1] - pairs[:, 0]
        yield Row(
            f"Δu′v′ of two lamps on camera, {CASES} cases, the card {name}",
            f"mean {before:.4f} → {after:.4f}, worst left {pairs[:, 1].max():.4f}",
            f"{after / before:.2f}",
            "≤ 0.5",
            bool(after <= 0.5 * before),
        )
        most = f", by {worse.max():.4f} at most" if (worse > 0.0).any() else ""
        yield Row(
            "of these worse than before",
            f"{(worse > 0.0).sum()}{most}",
            "",
            "none",
            bool((worse <= 0.0).all()),
        )


def case(seed: int, as_bright: bool) -> tuple[float, float]:
    """Mean Δu′v′ of the two lamps over whites in and between those read, before and after."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Trial(Path(folder), seed, NOISES[seed % len(NOISES)], OFF[seed // len(NOISES) % len(OFF)])
        if as_bright:
            trial.falls = dict.fromkeys(trial.falls, LIGHT)
        found = trial.read()
        return trial.apart(), trial.apart(found.readings if found.worth_keeping else ())
