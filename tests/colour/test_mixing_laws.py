"""Laws of the mixer on any set of emitters: exact, brightest, bounded, continuous."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from onecrew.colour.locus_table import uv76_to_white_fast
from onecrew.colour.mixing import Mixer
from onecrew.colour.spaces import uv76_to_xyz, xy_to_uv76, xyy_to_xyz, xyz_to_xy
from onecrew.colour.spectra import bells
from tests.colour.kits import SIX, emitters, kit

LAWS = settings(max_examples=60, deadline=None)
SEED = st.integers(0, 2**32 - 1)


def colours(mixer: Mixer, seed: int, count: int = 12) -> np.ndarray:
    """Colours inside the gamut, on its corners and edges, and outside."""
    rng = np.random.default_rng(seed)
    corners = mixer.gamut()
    inside = rng.dirichlet(np.ones(len(corners)), count) @ corners
    edges = corners + 0.3 * (np.roll(corners, -1, axis=0) - corners)
    return np.vstack((inside, corners, edges, rng.uniform((0.0, 0.1), (0.6, 0.6), (count, 2))))


def most_light(vectors: np.ndarray, ray: np.ndarray) -> float:
    """The largest s with s · ray a sum of vectors driven 0–1, by scipy's simplex (HiGHS)."""
    count = len(vectors)
    # Emitters on one line span a plane: said in its own two coordinates, rounding cannot rule it out.
    _, size, axes = np.linalg.svd(vectors, full_matrices=False)
    plane = axes[size > 1e-9 * size[0]].T
    aim = np.zeros(count + 1)
    aim[-1] = -1.0
    found = linprog(
        aim,
        A_eq=np.column_stack(((vectors @ plane).T, -(ray @ plane))),
        b_eq=np.zeros(plane.shape[1]),
        bounds=[(0.0, 1.0)] * count + [(0.0, None)],
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    assert found.success, found.message
    return float(found.x[-1])


@LAWS
@given(kit=emitters(), seed=SEED)
def test_colour_is_exact_and_drives_are_drives(kit: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    xy, flux = kit
    mixer = Mixer(xy, flux)
    asked = colours(mixer, seed)
    mix = mixer.most_light(asked)
    assert mix.drives.min() >= 0.0
    assert mix.drives.max() <= 1.0
    xyz = mix.drives @ xyy_to_xyz(xy, flux / flux.sum())
    assert np.abs(xy_to_uv76(xyz_to_xy(xyz)) - mix.reached).max() < 1e-8
    assert mix.light == pytest.approx(xyz[:, 1], abs=1e-9)
    assert (mix.light > 0.0).all()
    assert np.hypot(*(asked - mix.reached).T) == pytest.approx(mix.off_by, abs=2e-12)


@settings(max_examples=25, deadline=None)
@given(kit=emitters(), seed=SEED)
def test_no_linear_programme_finds_more_light(kit: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    xy, flux = kit
    mixer = Mixer(xy, flux)
    # On the very edge of the gamut the last bit decides whether a ray exists at all: step inside.
    reached = mixer.most_light(colours(mixer, seed, 3)).reached
    inside = 0.9999 * reached + 0.0001 * mixer.gamut().mean(axis=0)
    vectors = xyy_to_xyz(xy, flux / flux.sum())
    best = [most_light(vectors, ray) for ray in uv76_to_xyz(inside)]
    assert mixer.most_light(inside).light == pytest.approx(best, abs=1e-9)


@LAWS
@given(kit=emitters(most=7), seed=SEED, more=st.integers(1, 3))
def test_another_emitter_never_takes_light(kit: tuple[np.ndarray, np.ndarray], seed: int, more: int) -> None:
    xy, flux = kit
    mixer = Mixer(xy, flux)
    mix = mixer.most_light(colours(mixer, seed, 6))
    extra = np.random.default_rng(seed).dirichlet((2.0, 2.0, 2.0), min(more, 8 - len(xy)))[:, :2]
    wider = Mixer(np.vstack((xy, extra)), np.concatenate((flux, np.full(len(extra), flux.mean()))))
    again = wider.most_light(mix.reached)
    whole = flux.sum() + len(extra) * flux.mean()
    assert (again.light * whole >= mix.light * flux.sum() - 1e-9 * whole).all()
    assert again.off_by.max() < 1e-9


@LAWS
@given(kit=emitters(), seed=SEED, scale=st.floats(1e-3, 1e4))
def test_only_the_balance_of_flux_matters(
    kit: tuple[np.ndarray, np.ndarray], seed: int, scale: float
) -> None:
    xy, flux = kit
    mixer, scaled = Mixer(xy, flux), Mixer(xy, flux * scale)
    asked = colours(mixer, seed, 6)
    assert scaled.most_light(asked).light == pytest.approx(mixer.most_light(asked).light, abs=1e-9)


@LAWS
@given(kit=emitters(), seed=SEED)
def test_light_of_two_mixes_adds_up(kit: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    # Grassmann: half of each of two mixes is a mix, so the brightest of that colour gives no less.
    xy, flux = kit
    mixer = Mixer(xy, flux)
    asked = colours(mixer, seed, 8)[:8]
    mix = mixer.most_light(asked)
    half = 0.5 * (mix.drives[:4] + mix.drives[4:])
    xyz = half @ xyy_to_xyz(xy, flux / flux.sum())
    both = mixer.most_light(xy_to_uv76(xyz_to_xy(xyz)))
    assert (both.light >= xyz[:, 1] - 1e-9).all()
    assert xyz[:, 1] == pytest.approx(0.5 * (mix.light[:4] + mix.light[4:]), abs=1e-12)


def largest_jump(drives_at: Callable[[np.ndarray], np.ndarray], steps: int = 60) -> float:
    """The largest jump of drives along a fade, 0 → 1, found by closing in on the worst step.

    A continuous path shrinks its steps away; a jump stays, however short the step.
    """
    places = np.linspace(0.0, 1.0, steps + 1)
    moved = np.abs(np.diff(drives_at(places), axis=0)).max(axis=1)
    worst = 0.0
    for at in np.argsort(moved)[-3:]:
        low, high = places[at], places[at + 1]
        for _ in range(44):
            middle = 0.5 * (low + high)
            a, b, c = drives_at(np.array([low, middle, high]))
            low, high = (low, middle) if np.abs(b - a).max() >= np.abs(c - b).max() else (middle, high)
        a, b = drives_at(np.array([low, high]))
        worst = max(worst, float(np.abs(b - a).max()))
    return worst


@settings(max_examples=40, deadline=None)
@given(kit=emitters(), seed=SEED)
def test_most_light_drives_never_jump_along_a_fade(kit: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    mixer = Mixer(*kit)
    start, end = np.random.default_rng(seed).permutation(colours(mixer, seed, 6))[:2]
    fade = lambda at: mixer.most_light(start + at[:, None] * (end - start)).drives  # noqa: E731
    assert largest_jump(fade) < 1e-3


@settings(max_examples=20, deadline=None)
@given(kit=emitters(), seed=SEED)
def test_best_rendition_drives_never_jump_along_a_fade(kit: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    xy, flux = kit
    rng = np.random.default_rng(seed)
    spectra = [bells([(rng.uniform(430, 660), rng.uniform(18, 90), 1.0)]) for _ in flux]
    mixer = Mixer(xy, flux, spectra)
    start, end = rng.permutation(colours(mixer, seed, 6))[:2]
    fade = lambda at: mixer.best_rendition(start + at[:, None] * (end - start)).drives  # noqa: E731
    assert largest_jump(fade) < 1e-3


@pytest.mark.parametrize("v76", [0.20, 0.25, 0.30, 0.35])
def test_best_rendition_drives_do_not_jump_where_the_nearest_white_does(v76: float) -> None:
    # Along these purples the nearest point of the locus leaps by 100–290 mired; the reference must not.
    mixer = Mixer(*kit(*SIX))
    start, end = np.array([0.20, v76]), np.array([0.42, v76])
    fade = lambda at: mixer.best_rendition(start + at[:, None] * (end - start)).drives  # noqa: E731
    assert largest_jump(fade) < 1e-3
    mired, _ = uv76_to_white_fast(start + np.linspace(0.0, 1.0, 4001)[:, None] * (end - start))
    assert np.abs(np.diff(mired)).max() > 50.0


def test_the_chase_finds_a_jump_where_there_is_one() -> None:
    step = lambda at: np.where(at > 0.3712, 0.2, 0.0)[:, None] + 0.5 * at[:, None]  # noqa: E731
    assert largest_jump(step) == pytest.approx(0.2, abs=1e-6)
    smooth = lambda at: np.minimum(1.0, 40.0 * at)[:, None]  # noqa: E731
    assert largest_jump(smooth) < 1e-9
