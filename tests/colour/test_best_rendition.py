"""Best rendition: closest to its reference, unique, continuous, and true by indices it was not made from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from onecrew.colour.arrays import FloatArray
from onecrew.colour.best_rendition import Measure
from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.colour.mixing import Mixer
from onecrew.colour.rendition import rendition
from onecrew.colour.spaces import uv60_to_uv76, uv76_to_xyz, xy_to_uv76, xyy_to_xyz, xyz_to_xy
from onecrew.colour.spectra import at_unit_light, reference_spectrum
from tests.colour.kits import EIGHT, RGBWW, SIX, kit

WHITES_K = np.array([2700.0, 3200.0, 4300.0, 5600.0, 6500.0])
WHITES = uv60_to_uv76(white_to_uv60(WHITES_K))


@cache
def mixer_of(names: tuple[str, ...]) -> Mixer:
    return Mixer(*kit(*names))


def power_at_full(names: tuple[str, ...]) -> np.ndarray:
    """Spectra of a kit's emitters scaled to their share of the light."""
    _, flux, spectra = kit(*names)
    return at_unit_light(spectra) * (flux / flux.sum())[:, None]


def surfaces_metric() -> np.ndarray:
    """W of the measure ``surfaces``, by its definition: mean square over reflectances ρ of covariance K."""
    nm = wavelengths_nm()
    covariance = np.exp(-((nm[:, None] - nm[None, :]) ** 2) / (2.0 * 45.0**2))
    x_bar, y_bar, z_bar = matching_functions().T
    white = xyy_to_xyz((0.3457, 0.3585))
    shifts = (
        116.0 * y_bar,
        500.0 * (x_bar / white[0] - y_bar / white[1]),
        200.0 * (y_bar / white[1] - z_bar / white[2]),
    )
    return sum(np.outer(shift, shift) * covariance for shift in shifts)


@pytest.mark.parametrize("names", [SIX, RGBWW, EIGHT, ("red", "green", "blue", "warm")])
@pytest.mark.parametrize("measure", ["surfaces", "spectrum"])
def test_a_general_solver_finds_nothing_closer(names: tuple[str, ...], measure: Measure) -> None:
    xy, flux, spectra = kit(*names)
    mixer = Mixer(xy, flux, spectra)
    mix = mixer.best_rendition(WHITES, cct_k=WHITES_K, measure=measure, within_stops=None)
    power = power_at_full(names)
    weight = np.eye(471) if measure == "spectrum" else surfaces_metric()
    evenness = {"surfaces": 3e-3, "spectrum": 1e-6}[measure]
    squares = power @ weight @ power.T
    squares += np.diag(flux / flux.sum()) * evenness * np.trace(squares)
    scale = 1.0 / np.trace(squares)
    vectors = xyy_to_xyz(xy, flux / flux.sum())
    for k, cct_k in enumerate(WHITES_K):
        ray = uv76_to_xyz(WHITES[k])
        pull = power @ weight @ reference_spectrum(cct_k)
        miss: Callable[[FloatArray], Any] = lambda d: scale * (0.5 * d @ squares @ d - pull @ d)  # noqa: E731, B023
        slope = lambda d: scale * (squares @ d - pull)  # noqa: E731, B023
        ours = mix.drives[k] / mix.light[k]
        assert ours @ vectors == pytest.approx(ray, abs=1e-9)
        start = mixer.most_light(WHITES[k : k + 1])
        found = minimize(
            miss,
            start.drives[0] / start.light[0],
            jac=slope,
            method="SLSQP",
            bounds=[(0.0, None)] * len(flux),
            constraints={"type": "eq", "fun": lambda d: vectors.T @ d - ray, "jac": lambda d: vectors.T},  # noqa: B023
            options={"ftol": 1e-14, "maxiter": 400},
        )
        assert np.abs(vectors.T @ found.x - ray).max() < 1e-8
        # The references between the table's nodes are within 1e-4 of the true ones.
        assert miss(ours) <= miss(found.x) + 1e-6 * abs(miss(found.x))


def test_the_plain_measure_is_plain_least_squares() -> None:
    mixer = Mixer(*kit(*SIX))
    power = power_at_full(SIX)
    plain = mixer.best_rendition(WHITES, cct_k=WHITES_K, measure="spectrum", within_stops=None)
    for other in (mixer.most_light(WHITES), mixer.best_rendition(WHITES, cct_k=WHITES_K)):
        for k, cct_k in enumerate(WHITES_K):
            gap, other_gap = (
                np.square(mix.drives[k] @ power / mix.light[k] - reference_spectrum(cct_k)).sum()
                for mix in (plain, other)
            )
            assert gap <= other_gap * (1.0 + 1e-6)


@pytest.mark.parametrize("names", [SIX, EIGHT])
def test_it_renders_better_than_the_brightest_by_indices_it_does_not_know(names: tuple[str, ...]) -> None:
    # Ra (CIE 13.3), Rf and Rg (TM-30) and SSI (ST 2122) by colour-science and by the package's own SSI.
    mixer = Mixer(*kit(*names))
    power = power_at_full(names)
    true = [rendition(drives @ power) for drives in mixer.best_rendition(WHITES).drives]
    bright = [rendition(drives @ power) for drives in mixer.most_light(WHITES).drives]

    def mean(lights: Sequence[object], index: str) -> float:
        return float(np.mean([getattr(light, index) for light in lights]))

    assert mean(true, "ra") > mean(bright, "ra") + 2.0
    assert mean(true, "rf") > mean(bright, "rf") + 1.0
    assert mean(true, "ssi") > mean(bright, "ssi")
    assert abs(mean(true, "rg") - 100.0) < abs(mean(bright, "rg") - 100.0)
    assert min(light.ra for light in true) > 93.0
    for light, cct_k in zip(true, WHITES_K, strict=True):
        # Their xy is that of their spectra here, so the spectrum has the white that was asked.
        assert light.cct_k == pytest.approx(cct_k, abs=0.5)


def test_what_it_costs_in_light() -> None:
    mixer = Mixer(*kit(*SIX))
    lost = mixer.stops_lost(WHITES)
    bright, true = mixer.most_light(WHITES), mixer.best_rendition(WHITES)
    assert lost == pytest.approx(np.log2(bright.light / true.light), abs=1e-12)
    assert (lost >= 0.0).all()
    assert (lost < 1.5).all()
    # The plain measure pays more for less.
    assert (mixer.stops_lost(WHITES, measure="spectrum", within_stops=None) > lost).all()


def test_a_weak_emitter_does_not_darken_the_lamp() -> None:
    xy, flux, spectra = kit(*EIGHT)
    flux[0] *= 0.01
    mixer = Mixer(xy, flux, spectra)
    assert mixer.stops_lost(WHITES, within_stops=None).max() > 2.0
    for most in (0.0, 0.5, 1.5):
        assert mixer.stops_lost(WHITES, within_stops=most).max() <= most + 1e-9
        mix = mixer.best_rendition(WHITES, within_stops=most)
        xyz = mix.drives @ xyy_to_xyz(xy, flux / flux.sum())
        assert np.abs(xy_to_uv76(xyz_to_xy(xyz)) - mix.reached).max() < 1e-9
    assert mixer.best_rendition(WHITES, within_stops=0.0).light == pytest.approx(
        mixer.most_light(WHITES).light
    )
    # Where it costs less than the limit, the limit changes nothing.
    kind = Mixer(*kit(*EIGHT))
    assert kind.best_rendition(WHITES).drives == pytest.approx(
        kind.best_rendition(WHITES, within_stops=None).drives, abs=1e-9
    )


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), names=st.sampled_from([SIX, RGBWW, EIGHT]))
def test_colour_is_exact_and_the_most_driven_is_full_on(seed: int, names: tuple[str, ...]) -> None:
    xy, flux, _ = kit(*names)
    mixer = mixer_of(names)
    rng = np.random.default_rng(seed)
    corners = mixer.gamut()
    inside = rng.dirichlet(np.ones(len(corners)), 10) @ corners
    outside = rng.uniform((0.0, 0.1), (0.6, 0.6), (10, 2))
    for measure in ("surfaces", "spectrum"):
        mix = mixer.best_rendition(np.vstack((inside, outside, corners)), measure=measure)
        xyz = mix.drives @ xyy_to_xyz(xy, flux / flux.sum())
        assert np.abs(xy_to_uv76(xyz_to_xy(xyz)) - mix.reached).max() < 1e-8
        assert mix.drives.min() >= 0.0
        assert mix.drives.max(axis=1) == pytest.approx(np.ones(len(mix.drives)))
        assert mix.light == pytest.approx(xyz[:, 1])
        assert (mix.light <= mixer.most_light(mix.reached).light + 1e-9).all()
        assert (mix.off_by[:10] == 0.0).all()


def test_without_freedom_it_is_the_brightest() -> None:
    for names in (("warm", "cool"), ("red", "green", "blue"), ("warm",)):
        mixer = Mixer(*kit(*names))
        assert mixer.best_rendition(WHITES).drives == pytest.approx(mixer.most_light(WHITES).drives, abs=1e-9)
        assert mixer.stops_lost(WHITES) == pytest.approx(np.zeros(5), abs=1e-9)


def test_twins_share_one_drive() -> None:
    xy, flux, spectra = kit("red", "lime", "blue", "cyan", "lime")
    flux[4] *= 0.3
    for measure in ("surfaces", "spectrum"):
        mix = Mixer(xy, flux, spectra).best_rendition(WHITES, measure=measure)
        assert mix.drives[:, 1] == pytest.approx(mix.drives[:, 4], abs=1e-5)


def test_all_emitters_on_one_line() -> None:
    xy, flux, spectra = kit("warm", "cool", "red")
    xy[2] = xy[0] + 0.5 * (xy[0] - xy[1])
    mixer = Mixer(xy, flux, spectra)
    mix = mixer.best_rendition(WHITES)
    xyz = mix.drives @ xyy_to_xyz(xy, flux / flux.sum())
    assert np.abs(xy_to_uv76(xyz_to_xy(xyz)) - mix.reached).max() < 1e-9
    assert mix.drives.max(axis=1) == pytest.approx(np.ones(5))


def test_the_reference_can_be_named() -> None:
    mixer = Mixer(*kit(*SIX))
    at_4300 = white_to_uv76_fast([1e6 / 4300.0], 0.0)
    own = mixer.best_rendition(at_4300)
    assert mixer.best_rendition(at_4300, cct_k=4300.0).drives == pytest.approx(own.drives, abs=1e-9)
    assert np.abs(mixer.best_rendition(at_4300, cct_k=6500.0).drives - own.drives).max() > 0.01
    assert mixer.best_rendition(at_4300, cct_k=100.0).drives == pytest.approx(
        mixer.best_rendition(at_4300, cct_k=1000.0).drives
    )


def test_an_unknown_measure_is_refused() -> None:
    with pytest.raises(ValueError, match="'surfaces' or by 'spectrum', not 'taste'"):
        Mixer(*kit(*SIX)).best_rendition(WHITES, measure="taste")  # type: ignore[arg-type]


def test_along_the_whites_drives_move_gently() -> None:
    # A fade from 2700 to 6500 K moves no emitter by more than four times its range in all.
    mired = np.linspace(1e6 / 6500.0, 1e6 / 2700.0, 2001)
    for names in (SIX, RGBWW, EIGHT):
        drives = Mixer(*kit(*names)).best_rendition(white_to_uv76_fast(mired, 0.0)).drives
        assert np.abs(np.diff(drives, axis=0)).max() * 2000.0 < 5.0
