"""A match on the rendered room and on a spectral room of our own: levels, whites, ΔE2000, time."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from onecrew.stills.match import match
from onecrew.stills.problem import own_problem
from onecrew.stills.result import Match
from onecrew.stills.run import Run, read_run
from onecrew.stills.shotlist import read_shot_list
from onecrew.stills.solve import solve
from onecrew.stills.stack import read_plate
from onecrew.stills.transfer import curve_called
from tests.benchmarks.report import Row, best_of
from tests.stills.conftest import ROOM, the_room
from tests.stills.stage import PROFILES, Camera, Recorder, Stage, take_run, the_show

OUTPUTS = {"key": 0.35, "fill": 0.08, "edge": 0.2, "bulb": 0.03}
WHITES = {"key": 4300.0, "fill": 5200.0, "edge": 3400.0, "bulb": 3000.0}
LOG = Recorder(curve=curve_called("S-Log3"), bits=16, noise=0.01)
INVENTED = Camera(
    middles_nm=(595.0, 530.0, 450.0),
    width_nm=45.0,
    matrix=((1.8, -0.7, -0.1), (-0.3, 1.6, -0.3), (0.0, -0.5, 1.5)),
    white_balance_k=5600.0,
)


def rows() -> Iterator[Row]:
    yield from room_rows()
    yield stage_row("own room, 8-bit JPEG, noise", 0.06, 0.5, recorder=Recorder(jpeg=True, noise=0.01))
    yield stage_row("own room, another camera", 0.03, 0.5, stage=Stage(camera=INVENTED))
    yield stage_row("log, 16 bits, one still a lamp", 0.08, 1.0, recorder=LOG, curve="S-Log3", one_still=True)


def room_rows() -> Iterator[Row]:
    """The three frames of the rendered room, and how long the first takes to solve."""
    room = the_room()
    levels, whites, unseen, differences = [], [], 0, []
    for truth in room.targets:
        found = match(room.run, read_plate(ROOM / truth["file"], room.run.curve))
        told = found.exposure_stops - truth["exposure_against_stills_stops"]
        differences.append(found.delta_e or 0.0)
        for lamp in found.lamps:
            if truth["outputs"][lamp.id] <= 0.005 or lamp.output <= 0.0:
                continue
            off = abs(float(np.log2(lamp.output / truth["outputs"][lamp.id])) + told)
            levels.append(off)
            unseen += off > 0.15 and lamp.sure
            if lamp.asked_cct_k is not None:
                whites.append(abs(1e6 / lamp.asked_cct_k - 1e6 / truth["cct_k"][lamp.id]))
    median, most = float(np.median(levels)), float(np.quantile(levels, 0.9))
    yield Row(
        "rendered room, levels of three frames",
        f"median {median:.3f} stop, p90 {most:.2f}; white {np.median(whites):.1f} mired",
        "",
        "median ≤ 0.03",
        median <= 0.03,
    )
    yield Row("of these off by more than 0.15 stop and called sure", f"{unseen}", "", "0", unseen == 0)
    said = ", ".join(f"{one:.2f}" for one in differences)
    yield Row(
        "rendered room, ΔE2000 against 8-bit frames exposed +0, +2.3, +3.9 stops",
        said,
        "",
        "≤ 0.5",
        max(differences) <= 0.5,
    )
    problem = own_problem(room.run, read_plate(ROOM / "target-1.jpg", room.run.curve), None)
    took = best_of(lambda: solve(problem), rounds=5)
    yield Row("solve, seven lamps, 2304 blocks", f"{took:.2f} s", "", "≤ 0.5 s (bare time)", took <= 0.5)


def stage_row(name: str, most_stops: float, most_delta_e: float, **taking: Any) -> Row:
    """One run in the spectral room."""
    found = staged(**taking)
    off = [abs(float(np.log2(lamp.output / OUTPUTS[lamp.id])) + found.exposure_stops) for lamp in found.lamps]
    median, difference = float(np.median(off)), found.delta_e or 0.0
    return Row(
        name,
        f"median {median:.3f} stop, worst {max(off):.2f}; ΔE2000 {difference:.2f}",
        "",
        f"≤ {most_stops} stop, ΔE ≤ {most_delta_e}",
        median <= most_stops and difference <= most_delta_e,
    )


def staged(stage: Stage | None = None, recorder: Recorder | None = None, **taking: Any) -> Match:
    """A run taken, and a reference of known levels matched."""
    stage, recorder = stage or Stage(), recorder or Recorder()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        listed = take_run(folder, stage, recorder, **taking)
        reference = folder / ("reference.jpg" if recorder.jpeg else "reference.png")
        recorder.write(reference, stage.light(OUTPUTS, WHITES))
        run: Run = read_run(the_show(folder), PROFILES, folder, read_shot_list(listed))
        return match(run, read_plate(reference, run.curve))
