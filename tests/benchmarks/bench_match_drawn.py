"""A match in drawn rooms: cameras, curves, bits, noise, exposures, levels and whites by chance.

What is asked is whether a level that is called sure is right, and whether a curve that is right is doubted.
Run ``python -m tests.benchmarks match_drawn``.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from onecrew.stills.match import match
from onecrew.stills.run import read_run
from onecrew.stills.shotlist import read_shot_list
from onecrew.stills.stack import read_plate
from onecrew.stills.transfer import curve_called
from tests.benchmarks.report import Row
from tests.stills.stage import LAMPS, PROFILES, Camera, Recorder, Stage, take_run, the_rig

ROOMS = 48
SEED = 11
OFF = 0.15
"""Stops within which a level that is called sure is to stand."""
RECORDERS = {
    "JPEG": ("sRGB", Recorder(jpeg=True, noise=0.008)),
    "noisy JPEG": ("sRGB", Recorder(jpeg=True, noise=0.03)),
    "8 bits": ("BT.709", Recorder(noise=0.008)),
    "log, 16 bits": ("S-Log3", Recorder(bits=16, noise=0.008)),
    "log, 8 bits, clips early": ("LogC3", Recorder(noise=0.008, top=0.93)),
}


@dataclass(frozen=True)
class Level:
    """One lamp of one match that shone in the reference."""

    one_still: bool
    off: float
    """Stops, exposure taken out."""
    sure: bool
    share: float


def rows() -> Iterator[Row]:
    rng = np.random.default_rng(SEED)
    levels: list[Level] = []
    doubted = 0
    for _ in range(ROOMS):
        more, doubts = drawn(rng)
        levels += more
        doubted += doubts
    for one_still, name in ((False, "two stills a lamp"), (True, "one")):
        mine = [level for level in levels if level.one_still == one_still]
        sure = [level for level in mine if level.sure]
        shows = np.abs([level.off for level in mine if level.share > 0.3])
        wrong = sum(abs(level.off) > OFF for level in sure)
        shown = f"median {np.median(shows):.3f}, p90 {np.quantile(shows, 0.9):.2f} stop"
        yield Row(
            f"{ROOMS} drawn rooms, {name}: of {len(sure)} levels of {len(mine)} called sure, off by > {OFF}",
            f"{wrong}; lamps that show: {shown}",
            "",
            "0",
            wrong == 0,
        )
    yield Row("of these rooms, a right curve was doubted", f"{doubted}", "", "0", doubted == 0)


def drawn(rng: np.random.Generator) -> tuple[list[Level], bool]:
    """One room: how its levels come out, and whether its curve is doubted."""
    middles = rng.normal((600.0, 535.0, 455.0), 6.0)
    camera = Camera(
        middles_nm=(float(middles[0]), float(middles[1]), float(middles[2])),
        width_nm=float(rng.uniform(30.0, 50.0)),
        white_balance_k=float(rng.choice([3200.0, 4300.0, 5600.0])),
    )
    curve, recorder = RECORDERS[str(rng.choice(list(RECORDERS)))]
    stage = Stage(camera=camera, walls=float(rng.uniform(0.4, 1.2)))
    one_still = bool(rng.random() < 0.3)
    outputs = {name: float(2.0 ** rng.uniform(-8.0, 0.0)) if rng.random() < 0.85 else 0.0 for name in LAMPS}
    whites = {name: float(1e6 / rng.uniform(1e6 / 6400.0, 1e6 / 2750.0)) for name in LAMPS}
    peak = max(np.quantile(stage.light({name: 1.0}, {name: k}), 0.97) for name in LAMPS for k in (2700, 6500))
    recorder = replace(recorder, curve=curve_called(curve), gain=float(rng.choice([0.35, 0.8, 1.3]) / peak))
    lit = float(np.quantile(stage.light(outputs, whites) * recorder.gain, 0.9))
    stops = min(float(rng.choice([0.0, 0.0, 1.5, 3.0, 4.0])), float(np.floor(2.0 * np.log2(0.9 / lit)) / 2.0))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        listed = take_run(folder, stage, recorder, one_still=one_still, curve=curve)
        reference = folder / ("reference.jpg" if recorder.jpeg else "reference.png")
        replace(recorder, gain=recorder.gain * 2.0**stops).write(reference, stage.light(outputs, whites))
        run = read_run(the_rig(), PROFILES, folder, read_shot_list(listed))
        found = match(run, read_plate(reference, run.curve))
    levels = [
        Level(
            one_still,
            float(np.log2(max(lamp.output, 1e-7) / outputs[lamp.id])) + found.exposure_stops - stops,
            lamp.sure,
            lamp.share,
        )
        for lamp in found.lamps
        if outputs[lamp.id] > 0.0
    ]
    return levels, any("add up better" in note for note in found.notes)
