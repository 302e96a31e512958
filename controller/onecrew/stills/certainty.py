"""Certainty: how sure each level and white of a solution is, from the well-scaled problem.

The unknowns are scaled to the size of their effect before the normal matrix is inverted: a free exposure
beside levels would otherwise make nonsense of it. Neighbouring blocks err together, so that they count as
fewer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.stills.solve import LUMA, Problem, Solution, picture, slopes_of, weights

TOGETHER = 9.0
"""So many neighbouring blocks err as one: compression, drift and movement reach further than a block. Set on
rendered stills, where every lamp off by more than 0.15 stop has to be found."""
SURE_STOPS = 0.1
_BIAS = 0.01
"""Share of the whole light that a place may be off by in a way that no neighbour evens out."""
_AWAY = 0.002
"""Stops by which a level may be off for each mired between the white and the one still of its lamp. Set on
rendered stills."""
_ALIKE = 0.95
"""Correlation of two lamps' levels from which the pictures cannot tell them apart."""
_FEW = 20
_MOST_TINTED = 0.2
SHOWS = 0.02
"""Share of the light that a lamp gives where it shows most, below which it could as well be out."""


@dataclass(frozen=True, slots=True, eq=False)
class Certainty:
    """By source, in the problem's order."""

    stops: FloatArray
    """(k,), standard error of each level."""
    mired: FloatArray
    share: FloatArray
    """(k,), share of the light that each lamp gives where it shows most, 0–1."""
    alike: tuple[tuple[int, int], ...]
    """Pairs that light the same places alike."""
    ambient_stops: float
    """Standard error of the exposure as the ambient light shows it."""

    def sure(self, source: int) -> bool:
        """Whether a level stands within about 0.15 stop."""
        return bool(self.stops[source] < SURE_STOPS) and not any(source in pair for pair in self.alike)


def certainty(problem: Problem, solution: Solution) -> Certainty:
    """Return the standard errors of a solution."""
    k = len(problem.sources)
    counts = problem.weight > 0.0
    weight = weights(problem, solution.stops)[counts]
    rest, slopes = solution.residual, solution.jacobian
    if len(rest) == len(counts):
        rest, slopes = rest[counts], slopes[counts]
    weighed = (slopes * weight[:, :, None]).reshape(-1, 2 * k + 1)
    errors = (rest * weight).ravel()
    free = max(len(errors) / 3.0 - 2 * k, 1.0)
    spread = float(np.sort(errors**2)[: max(int(0.9 * len(errors)), 1)].sum()) / max(0.9 * 3.0 * free, 1.0)
    spread = max(spread, 1e-6) * (TOGETHER if problem.doubts else 1.0)
    size = np.linalg.norm(weighed, axis=0)
    size = np.where(size > 0.0, size, 1.0)
    scaled = weighed / size
    normal = scaled.T @ scaled + 1e-9 * np.eye(2 * k + 1)
    lost = np.linalg.norm(weighed, axis=0) <= 1e-9
    covariance = np.linalg.inv(normal + np.diag(lost.astype(float)))
    error = np.hypot(
        np.sqrt(np.maximum(np.diag(covariance), 0.0) * spread) / size,
        _one_sided(problem, solution, weight, counts, scaled, covariance) / size,
    )
    error[lost] = np.inf
    share = _shares(problem, solution)
    biased = np.hypot(error[:k], np.log2(1.0 + _BIAS / np.maximum(share, 1e-6)))
    biased = np.hypot(biased, _AWAY * _away(problem, solution))
    stops = np.where(share < SHOWS, np.maximum(biased, 1.0), biased)
    normed = covariance[:k, :k] / np.sqrt(np.outer(np.diag(covariance)[:k], np.diag(covariance)[:k]))
    pairs = [
        (i, j)
        for i in range(k)
        for j in range(i + 1, k)
        if normed[i, j] < -_ALIKE and not lost[i] and not lost[j]
    ]
    ambient = _ambient_error(problem, solution, error)
    return Certainty(stops, error[k : 2 * k], share, tuple(pairs), ambient)


def _away(problem: Problem, solution: Solution) -> FloatArray:
    """(k,), mired from each white to the one still of its lamp; 0 where it has two."""
    return np.array(
        [
            0.0 if source.only_still is None else abs(float(white) - source.only_still)
            for source, white in zip(problem.sources, solution.mired, strict=True)
        ]
    )


def _ambient_error(problem: Problem, solution: Solution, error: FloatArray) -> float:
    """Standard error, stops, of what the ambient light is multiplied by; light that is even counts as it
    too."""
    counts = problem.weight > 0.0
    if not counts.any():
        return np.inf
    light = picture(problem, solution.stops, solution.mired, solution.ambient_stops)[counts] @ LUMA
    ambient = 2.0**solution.ambient_stops * float(np.median(problem.ambient[counts] @ LUMA))
    even = np.log2(1.0 + _BIAS * max(float(np.median(light)), 0.0) / max(ambient, 1e-9))
    return float(np.hypot(error[-1], even))


def _one_sided(
    problem: Problem,
    solution: Solution,
    weight: FloatArray,
    counts: NDArray[np.bool_],
    scaled: FloatArray,
    covariance: FloatArray,
) -> FloatArray:
    """(2k + 1,), what the unknowns move where a whole picture's black is off by half its doubt, all one way,
    or all of a lamp's light in its colour.

    Unlike noise it does not even out over the blocks; in dark pictures it is what counts.
    """
    if not problem.doubts:
        return np.zeros(len(covariance))
    light = picture(problem, solution.stops, solution.mired, solution.ambient_stops)[counts]
    by_light = slopes_of(light) * weight[:, :, None]
    offs = [problem.target_doubt[counts]]
    offs += [
        2.0**stop * source.doubt[counts] for source, stop in zip(problem.sources, solution.stops, strict=True)
    ]
    moved: FloatArray = np.zeros(len(covariance))
    for off in offs:
        for channel in range(3):
            change = by_light[:, :, channel] * (0.5 * off[:, channel])[:, None]
            moved = np.hypot(moved, covariance @ (scaled.T @ change.ravel()))
    tinted = _tinted(problem, solution, weight, counts)
    for source, stop, white in zip(problem.sources, solution.stops, solution.mired, strict=True):
        own = np.log(2.0) * tinted * 2.0**stop * source.at(float(white))[0][counts]
        for channel in (0, 2):
            change = by_light[:, :, channel] * own[:, channel, None]
            moved = np.hypot(moved, covariance @ (scaled.T @ change.ravel()))
    return moved


def _tinted(problem: Problem, solution: Solution, weight: FloatArray, counts: NDArray[np.bool_]) -> float:
    """log2 of what the colour of a lamp's light is off by: whites between two stills are blends of them, and
    no noise. Seen where noise is small."""
    rest = solution.residual
    rest = rest[counts] if len(rest) == len(counts) else rest
    clear = (weight[:, 1:] > 0.7 * np.sqrt(problem.weight[counts])[:, None]).all(axis=1)
    if clear.sum() < _FEW:
        return 0.0
    return min(float(np.median(np.abs(rest[clear, 1:]))), _MOST_TINTED)


def _shares(problem: Problem, solution: Solution) -> FloatArray:
    """(k,), what part of the light each lamp gives in the brightest 2 % of the places, by that part."""
    counts = problem.weight > 0.0
    light = picture(problem, solution.stops, solution.mired, solution.ambient_stops)[counts] @ LUMA
    seen = np.maximum(light, 2.0**-8)
    shares = []
    for source, stop, mired in zip(problem.sources, solution.stops, solution.mired, strict=True):
        own = 2.0**stop * np.maximum(source.at(float(mired))[0][counts] @ LUMA, 0.0) / seen
        shares.append(float(np.sort(own)[-max(1, len(own) // 50) :].mean()) if len(own) else 0.0)
    return np.asarray(np.minimum(np.array(shares), 1.0))
