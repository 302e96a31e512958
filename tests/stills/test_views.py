"""Lamps before a population of cameras, whether a lamp's spectra are told or not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from onecrew.colour.spaces import xyz_to_xy
from onecrew.colour.spectra import spectrum_to_xyz
from onecrew.show.show import Fixture
from onecrew.stills.kit import Lamp
from onecrew.stills.population import seen_emitters, seen_whites
from onecrew.stills.views import View
from tests.stills.cards import Sample, published
from tests.stills.stage import PROFILES
from tests.stills.test_camera_meter import KINDS, Trial

WHITES = np.array([[1e6 / 2700.0, 0.0], [1e6 / 4300.0, 0.01], [1e6 / 6500.0, 0.0]])


def lamp(kind: tuple[str, str]) -> Lamp:
    return Lamp(Fixture(id="sky", profile=kind[0], mode=kind[1], universe=1, address=1, role="key"), PROFILES)


@pytest.mark.parametrize("kind", KINDS)
def test_published_cameras_see_what_drawn_ones_may_see(kind: tuple[str, str]) -> None:
    """Against a white between them, so that no balance counts; the sensors are colour-science's."""
    sample = Sample.made(kind, np.random.default_rng(3))
    drawn = View(lamp(kind), 1).ratios(WHITES)
    for sensor in published():
        light = np.array([sample.power(1e6 / mired, duv) @ sensor for mired, duv in WHITES])
        seen = np.log(light[:, (0, 2)] / light[:, 1:2])
        low, high = np.percentile(drawn - drawn[:, 1:2], (0.2, 99.8), axis=0)
        assert (low <= seen - seen[1]).all() and (seen - seen[1] <= high).all()


def test_two_lamps_of_a_kind_are_two_samples_of_it_before_the_same_cameras() -> None:
    emitters = list(lamp(KINDS[0]).emitters.values())
    one, other = seen_emitters(emitters, 1), seen_emitters(emitters, 2)
    assert np.array_equal(one, seen_emitters(emitters, 1))
    low, middle, high = np.percentile(one[..., 1] / other[..., 1], (10.0, 50.0, 90.0), axis=0)
    assert (low < 0.9).all() and (high > 1.1).all() and np.allclose(middle, 1.0, atol=0.05)


def test_a_lamp_of_unknown_spectrum_has_the_white_that_it_is_asked_for() -> None:
    """A white seen by cameras of many kinds is between blue and red as its chromaticity is."""
    xy = xyz_to_xy(spectrum_to_xyz(np.stack([lamp_power(2700.0), lamp_power(6500.0)])))
    warm, cool = np.median(seen_whites(xy, 1), axis=0)
    assert warm[0] / warm[2] > 2.0 * cool[0] / cool[2]


def lamp_power(cct_k: float) -> np.ndarray:
    return Sample.made(KINDS[0], np.random.default_rng(0), 0.0).power(cct_k)


def test_what_a_lamp_mixes_itself_or_has_no_spectrum_of_is_not_known() -> None:
    assert View(lamp(KINDS[0]), 1).known
    assert not View(lamp(("bulb-rgbww", "white")), 1).known


def test_only_a_lamp_with_a_tint_tells_how_ratios_change() -> None:
    assert View(lamp(("panel-bicolour", "16-bit")), 1).slopes(WHITES) is None
    slopes = View(lamp(KINDS[0]), 1).slopes(WHITES)
    assert slopes is not None and slopes.shape[1:] == (3, 2, 2)
    assert (np.median(slopes[:, :, 0, 0], axis=0) > 0.0).all(), "more red with u′"
    assert (np.median(slopes[:, :, 1, 1], axis=0) < 0.0).all(), "less blue with v′"


def test_without_any_spectrum_it_still_halves_what_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Lamp, "emitters", {})
    before, after = [], []
    for seed in range(6):
        trial = Trial(tmp_path, seed)
        trial.falls = dict.fromkeys(trial.falls, 0.18)
        found = trial.read()
        before.append(trial.apart())
        after.append(trial.apart(found.readings if found.worth_keeping else ()))
    assert all(b >= a for b, a in zip(before, after, strict=True)), (before, after)
    assert np.mean(after) < 0.5 * np.mean(before)
