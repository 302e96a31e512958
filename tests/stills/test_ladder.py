"""A camera's own curve, found from eleven steps of one lamp."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from onecrew.errors import Mistake
from onecrew.stills.ladder import curve_from_ladder, ladder_of
from onecrew.stills.match import match
from onecrew.stills.run import read_run
from onecrew.stills.shotlist import Shot, read_shot_list
from onecrew.stills.stack import read_plate
from onecrew.stills.transfer import Curve, curve_called
from tests.stills.stage import PROFILES, Recorder, Stage, take_run, the_show

OUTPUTS = np.exp2(-np.arange(11.0, dtype=np.float64)[::-1])


def look() -> Curve:
    """BT.709 with a contrast of our own on top."""
    base, codes = curve_called("BT.709"), np.linspace(0.0, 1.0, 600)
    bent = codes**1.2 * (1.0 - 0.3 * codes) + 0.3 * codes * codes
    return Curve(
        "look",
        lambda v: base.decode(np.interp(np.asarray(v, float), bent, codes)),
        lambda x: np.interp(base.encode(x), codes, bent),
    )


@pytest.mark.parametrize("name", ["S-Log3", "sRGB", "BT.709", "LogC3", "look"])
def test_the_curve_is_found_within_a_tenth_of_a_stop(name: str) -> None:
    curve = look() if name == "look" else curve_called(name)
    rng = np.random.default_rng(1)
    light, ambient = np.exp(rng.uniform(np.log(0.002), np.log(1.5), 2000)), rng.uniform(0.0002, 0.001, 2000)
    codes = np.clip(curve.encode(OUTPUTS[:, None] * light + ambient), 0.0, 1.0)
    codes = np.round(np.clip(codes + rng.normal(0.0, 0.0007, codes.shape), 0.0, 1.0) * 1023.0) / 1023.0
    dark = np.round(np.clip(curve.encode(ambient), 0.0, 1.0) * 1023.0) / 1023.0
    found = curve_from_ladder(codes, OUTPUTS, dark, 0.985)
    steps = np.geomspace(0.008, 0.8, 12)
    above = found.decode(curve.encode(steps + 0.0006)) - found.decode(curve.encode(0.0006))
    stops = np.log2(above / steps)
    assert np.abs(stops - np.median(stops)).max() < 0.1


def test_levels_by_a_ladder(tmp_path: Path) -> None:
    stage, recorder = Stage(), Recorder(curve=look(), bits=16, gain=2.0)
    listed = take_run(tmp_path, stage, recorder, curve="ladder")
    document = json.loads(listed.read_text())
    for n, output in enumerate(OUTPUTS[:-1]):
        recorder.write(tmp_path / f"step-{n}.png", stage.light({"fill": output}, {"fill": 6500}))
        document["stills"].append(
            {"file": f"step-{n}.png", "lamp": "fill", "output": float(output), "cct_k": 6500, "duv": 0}
        )
    listed.write_text(json.dumps(document))
    outputs = {"key": 0.35, "fill": 0.08, "edge": 0.2, "bulb": 0.03}
    whites = {"key": 4300.0, "fill": 5200.0, "edge": 3400.0, "bulb": 3000.0}
    recorder.write(tmp_path / "reference.png", stage.light(outputs, whites))
    run = read_run(the_show(tmp_path), PROFILES, tmp_path, read_shot_list(listed))
    found = match(run, read_plate(tmp_path / "reference.png", run.curve))
    off = [abs(np.log2(lamp.output / outputs[lamp.id]) + found.exposure_stops) for lamp in found.lamps]
    assert np.median(off) <= 0.1
    assert found.delta_e is not None and found.delta_e <= 1.2
    assert any("curve was found from the 11 steps of fill" in note for note in run.notes)


def test_the_longest_ladder_is_taken() -> None:
    shots = [Shot("dark", None)]
    shots += [Shot(f"a{n}", "a", output=2.0**-n, cct_k=4000.0) for n in range(4)]
    shots += [Shot(f"b{n}", "b", output=2.0**-n, cct_k=4000.0) for n in range(6)]
    assert [shots[i].file for i in ladder_of(shots)] == ["b5", "b4", "b3", "b2", "b1", "b0"]
    assert ladder_of(shots[:5]) == []


def test_a_ladder_that_shows_nothing_is_refused() -> None:
    with pytest.raises(Mistake, match="too few places"):
        curve_from_ladder(np.zeros((11, 50)), OUTPUTS, np.zeros(50), 0.985)


def test_a_ladder_that_is_asked_for_and_missing_is_refused(tmp_path: Path) -> None:
    listed = take_run(tmp_path, curve="ladder")
    with pytest.raises(Mistake, match="no lamp has stills at five outputs"):
        read_run(the_show(tmp_path), PROFILES, tmp_path, read_shot_list(listed))
