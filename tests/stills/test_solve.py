"""The solve against other solvers: exhaustive search, and scipy's bounded linear least squares."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.optimize import least_squares, lsq_linear

from onecrew.stills.certainty import certainty
from onecrew.stills.solve import Problem, Source, logs, picture, solve, weights

RNG = np.random.default_rng(11)
WHITES = np.linspace(150.0, 370.0, 25, dtype=np.float64)


def source(name: str, places: np.ndarray, colour_by_mired: float = 1.0) -> Source:
    """A lamp that lights n places, warmer light redder."""
    warm = (WHITES - 250.0) / 120.0 * colour_by_mired
    tint = np.stack((1.0 + 0.25 * warm, np.ones_like(warm), 1.0 - 0.35 * warm), axis=1)
    light = places[None, :, None] * tint[:, None, :]
    return Source(name, WHITES, light, np.full((len(places), 3), 1e-5))


def problem(target: np.ndarray, sources: tuple[Source, ...], **more: object) -> Problem:
    n = len(target)
    plain = {"exposure": None, "doubts": False, **more}
    return Problem(sources, np.full((n, 3), 1e-4), target, np.full((n, 3), 1e-5), np.ones(n), **plain)  # type: ignore[arg-type]


def cost(of: Problem, stops: np.ndarray, mired: np.ndarray) -> float:
    ambient = max(0.0, float(np.max(stops)))
    return float(((logs(picture(of, stops, mired, ambient)) - logs(of.target)) ** 2).sum())


def foreign() -> Problem:
    """Two lamps, five places, and a reference that they cannot reach."""
    key = source("key", np.array([0.9, 0.2, 0.3, 0.1, 0.05]))
    fill = source("fill", np.array([0.3, 0.4, 0.2, 0.3, 0.1]))
    target = np.array(
        [[0.4, 0.3, 0.2], [0.05, 0.05, 0.06], [0.2, 0.12, 0.1], [0.02, 0.03, 0.05], [0.1, 0.1, 0.1]]
    )
    return problem(target, (key, fill))


def test_a_foreign_reference_comes_within_five_per_cent_of_an_exhaustive_search() -> None:
    of = foreign()
    found = solve(of)
    mine = cost(of, found.stops, found.mired)
    levels, whites = np.linspace(-6.0, 1.0, 36), np.linspace(150.0, 370.0, 12)
    best = min(
        cost(of, np.array([a, b]), np.array([m, w])) for a, b, m, w in product(levels, levels, whites, whites)
    )
    assert mine <= 1.05 * best


def test_a_general_solver_finds_nothing_better() -> None:
    of = foreign()
    found = solve(of)

    def residuals(x: np.ndarray) -> np.ndarray:
        ambient = max(0.0, float(x[:2].max()))
        return (logs(picture(of, x[:2], x[2:], ambient)) - logs(of.target)).ravel()

    theirs = min(
        2.0 * least_squares(residuals, start, bounds=([-14, -14, 150, 150], [9, 9, 370, 370])).cost
        for start in ([-1.0, -3.0, 250.0, 250.0], [-3.0, -1.0, 200.0, 300.0], [0.0, 0.0, 300.0, 200.0])
    )
    assert cost(of, found.stops, found.mired) <= 1.01 * theirs


def test_as_bounded_linear_least_squares_where_the_sum_is_exact() -> None:
    """One white each, no noise: scipy's lsq_linear on the plain sum finds the same levels."""
    shapes = RNG.random((3, 40)) + 0.05
    sources = tuple(
        Source(str(i), np.array([250.0]), np.repeat(shape[None, :, None], 3, axis=2), np.full((40, 3), 1e-6))
        for i, shape in enumerate(shapes)
    )
    truth = np.array([0.5, 0.02, 0.1])
    target = np.repeat((truth @ shapes)[:, None], 3, axis=1) + 1e-4
    theirs = lsq_linear(shapes.T, target[:, 0] - 1e-4, (0.0, 1.0)).x
    np.testing.assert_allclose(theirs, truth, atol=1e-6)
    for doubts in (False, True):
        found = solve(problem(target, sources, exposure=0.0, doubts=doubts))
        np.testing.assert_allclose(2.0**found.stops, theirs, rtol=2e-3)


def test_levels_and_whites_come_back_exactly_from_an_exact_sum() -> None:
    sources = tuple(source(str(i), RNG.random(60) + 0.02) for i in range(4))
    stops, mired = np.array([-1.0, -3.0, -5.0, -2.0]), np.array([200.0, 300.0, 250.0, 350.0])
    empty = problem(np.ones((60, 3)), sources, exposure=0.0)
    of = problem(picture(empty, stops, mired, 0.0), sources, exposure=0.0, doubts=True)
    found = solve(of)
    np.testing.assert_allclose(found.stops, stops, atol=0.02)
    np.testing.assert_allclose(found.mired, mired, atol=1.0)


def test_no_lamp_passes_its_full_light_at_a_told_exposure() -> None:
    sources = (source("key", np.ones(20) * 0.1),)
    found = solve(problem(np.full((20, 3), 0.9), sources, exposure=0.0))
    assert found.stops[0] == pytest.approx(0.0, abs=1e-6)


def test_slopes_are_those_of_the_residuals() -> None:
    of = foreign()
    found = solve(of)
    for i, step in ((0, 1e-5), (1, 1e-5), (2, 1e-3), (3, 1e-3)):
        x = np.concatenate((found.stops, found.mired))
        ends = []
        for sign in (-1.0, 1.0):
            moved = x.copy()
            moved[i] += sign * step
            ends.append(logs(picture(of, moved[:2], moved[2:], found.ambient_stops)))
        np.testing.assert_allclose(found.jacobian[:, :, i], (ends[1] - ends[0]) / (2.0 * step), atol=2e-3)


def test_two_lamps_that_light_alike_are_told_and_neither_is_sure() -> None:
    shape = RNG.random(80) + 0.1
    sources = (source("a", shape), source("b", shape * (1.0 + 0.002 * RNG.random(80))))
    target = 0.3 * sources[0].light[12] + 0.2 * sources[1].light[12] + 1e-4
    of = problem(target + RNG.normal(0.0, 2e-4, target.shape), sources, exposure=0.0, doubts=True)
    sure = certainty(of, solve(of))
    assert sure.alike == ((0, 1),)
    assert not sure.sure(0) and not sure.sure(1)


def test_a_lamp_that_hardly_shows_is_not_sure_and_a_strong_one_is() -> None:
    one, other = RNG.random(80) + 0.1, RNG.random(80) + 0.1
    sources = (source("strong", one), source("weak", other))
    target = 0.5 * sources[0].light[10] + 0.002 * sources[1].light[10] + 1e-4
    of = problem(target, sources, exposure=0.0, doubts=True)
    sure = certainty(of, solve(of))
    assert sure.sure(0) and not sure.sure(1)
    assert sure.share[0] > 0.9 and sure.share[1] < 0.1


def test_a_lamp_that_lights_nothing_has_no_end_of_error() -> None:
    sources = (source("on", RNG.random(40) + 0.1), source("away", np.zeros(40)))
    of = problem(0.2 * sources[0].light[12] + 1e-4, sources, exposure=0.0, doubts=True)
    sure = certainty(of, solve(of))
    assert not np.isfinite(sure.stops[1]) and not sure.sure(1)


@pytest.mark.parametrize(("mired", "end"), [(50.0, 0), (900.0, -1)])
def test_a_white_beyond_those_of_the_stills_gives_the_light_of_the_last(mired: float, end: int) -> None:
    lamp = source("key", np.ones(3))
    np.testing.assert_allclose(lamp.at(mired)[0], lamp.light[end])


def test_a_place_of_the_reference_that_is_in_doubt_weighs_less_and_no_other_does() -> None:
    of = problem(np.full((4, 3), 0.2), (source("key", np.ones(4)),), doubts=True)
    doubt = of.target_doubt.copy()
    doubt[2] = 0.1
    sure, unsure = (weights(one, np.array([-2.0])) for one in (of, replace(of, target_doubt=doubt)))
    assert (unsure[2] < 0.1 * sure[2]).all()
    np.testing.assert_array_equal(np.delete(unsure, 2, axis=0), np.delete(sure, 2, axis=0))


def test_an_exposure_that_is_told_holds_for_the_ambient_light_too() -> None:
    """Even where the reference would agree better with another one."""
    lit = source("key", RNG.random(60) + 0.02)
    empty = replace(
        problem(np.ones((60, 3)), (lit,), exposure=1.0, doubts=True), ambient=np.full((60, 3), 0.05)
    )
    of = replace(empty, target=picture(empty, np.array([-2.0]), np.array([250.0]), 0.0))
    assert solve(of).ambient_stops == 1.0
    assert solve(replace(of, exposure=None)).ambient_stops == pytest.approx(0.0, abs=0.1)
