"""Graded: a reference whose tones were bent after the camera, by one rising curve for all three channels.

The curve is fitted with the levels, in turn: light that the solution gives against light that the reference
shows, on log2 of both. Its slope is drawn to 1, the more so the fewer the points, since a free contrast
would take the key to fill ratio for its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.stills.solve import FLOOR, Problem, Solution, picture, solve

_KNOTS = 9
_LOW, _HIGH = -9.0, 3.0
_STIFF = 1.5
_SLOPES = (0.4, 2.5)
_ROUNDS = 5


def solve_graded(problem: Problem) -> tuple[Solution, Problem]:
    """Return the solution and the problem with the grade taken off its target."""
    graded = problem.target
    bend: FloatArray = np.zeros(_KNOTS - 1)
    solution, plain = solve(problem), problem
    for _ in range(_ROUNDS):
        light = picture(plain, solution.stops, solution.mired, solution.ambient_stops)
        bend = _fitted(graded, light, problem.weight)
        plain = replace(problem, target=_ungraded(graded, bend))
        solution = solve(plain, [(solution.stops, solution.mired)])
    return solution, plain


def _knots() -> FloatArray:
    return np.asarray(np.linspace(_LOW, _HIGH, _KNOTS), dtype=np.float64)


def _fitted(graded: FloatArray, light: FloatArray, weight: FloatArray) -> FloatArray:
    """Slopes, less 1, of log2 light over log2 graded, between the knots; least squares with a pull to 0."""
    counts = np.repeat(weight, graded.shape[1])
    seen = np.log2(np.maximum(graded, 0.0) + FLOOR).ravel()
    aim = np.log2(np.maximum(light, 0.0) + FLOOR).ravel() - seen
    knots = _knots()
    ramps = np.clip(seen[:, None] - knots[:-1], 0.0, knots[1] - knots[0])
    matrix = np.column_stack((ramps, np.ones(len(seen)))) * np.sqrt(counts)[:, None]
    pull = np.eye(_KNOTS)[:-1] * _STIFF * np.sqrt(12.0)
    found = np.linalg.lstsq(
        np.vstack((matrix, pull)), np.concatenate((aim * np.sqrt(counts), np.zeros(_KNOTS - 1))), rcond=None
    )[0]
    return np.asarray(np.clip(found[:-1], _SLOPES[0] - 1.0, _SLOPES[1] - 1.0))


def _ungraded(graded: FloatArray, bend: FloatArray) -> FloatArray:
    """The light behind graded values; a grey of 0.18 stays, since exposure is free."""
    knots = _knots()

    def bent(seen: FloatArray) -> FloatArray:
        ramps = np.clip(seen[..., None] - knots[:-1], 0.0, knots[1] - knots[0])
        return np.asarray(ramps @ bend)

    seen = np.log2(np.maximum(graded, 0.0) + FLOOR)
    moved = seen + bent(seen) - bent(np.array(np.log2(0.18)))
    return np.asarray(np.maximum(2.0**moved - FLOOR, 0.0))
