"""Solve: levels and whites whose sum of light lies nearest to a reference.

Bounded least squares on log2 of light and on mired: luminance in stops and log2 colour ratios over a floor
of 2^-9, from a start by non-negative least squares weighted 1 / (target + floor), and a few more. After C.
Schoeneman, J. Dorsey, B. Smits, J. Arvo, D. Greenberg, *Painting with Light*, SIGGRAPH 1993; the log terms
and weights are own arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray

FLOOR = 2.0**-9
LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Of linear RGB with the primaries of ITU-R BT.709."""
DARKEST, BRIGHTEST = -14.0, 9.0
"""Stops against a lamp's full output in the stills, exposure included."""
_RIDGE_STOPS, _RIDGE_MIRED = 0.004, 0.0002
_MISFIT = 0.02
"""Stops: what a block is off at best, by compression, movement and the blend of whites."""
_SOME = 600
"""Points that the starts are compared on."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One lamp at n points: its light at full output over its whites."""

    name: str
    mired: FloatArray
    """(g,) rising; one for a lamp of one colour."""
    light: FloatArray
    """(g, n, 3), linear."""
    doubt: FloatArray
    """(n, 3), standard deviation of that light."""
    only_still: float | None = None
    """Mired of its still where it has but one and many whites: the others are reckoned from the profile."""

    @property
    def one_colour(self) -> bool:
        return len(self.mired) == 1

    def at(self, mired: float) -> tuple[FloatArray, FloatArray]:
        """Return the light (n, 3) at a white, and its change by one mired."""
        if self.one_colour:
            return self.light[0], np.zeros_like(self.light[0])
        step = float(self.mired[1] - self.mired[0])
        place = min(max((mired - float(self.mired[0])) / step, 0.0), len(self.mired) - 1.0)
        cell = min(int(place), len(self.mired) - 2)
        slope = self.light[cell + 1] - self.light[cell]
        return self.light[cell] + (place - cell) * slope, slope / step

    def some(self, points: NDArray[np.intp]) -> Source:
        return Source(self.name, self.mired, self.light[:, points], self.doubt[points], self.only_still)


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What is to be matched at n points."""

    sources: tuple[Source, ...]
    ambient: FloatArray
    """(n, 3), what no lamp of the list gives."""
    target: FloatArray
    """(n, 3), linear."""
    target_doubt: FloatArray
    """(n, 3), standard deviation."""
    weight: FloatArray
    """(n,)."""
    exposure: float | None = None
    """Stops by which the reference is exposed more than the stills; None: free."""
    doubts: bool = True
    """Whether what is uncertain weighs less, as with many blocks; marked regions count as they are marked."""

    def some(self, points: NDArray[np.intp]) -> Problem:
        return Problem(
            tuple(source.some(points) for source in self.sources),
            self.ambient[points],
            self.target[points],
            self.target_doubt[points],
            self.weight[points],
            self.exposure,
            self.doubts,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Where the light stands; stops and mireds by source."""

    stops: FloatArray
    """(k,), log2 of output × exposure."""
    mired: FloatArray
    """(k,)."""
    ambient_stops: float
    """log2 of what the ambient light is multiplied by: the exposure, as far as it shows."""
    cost: float
    """Sum of squares of the weighted residuals."""
    jacobian: FloatArray
    """(n, 3, 2k + 1): slopes of the residuals by the stops, the mireds, and the ambient's stops; not
    weighted."""
    residual: FloatArray
    """(n, 3): luminance in stops, and the two log2 colour ratios; not weighted."""


def picture(problem: Problem, stops: FloatArray, mired: FloatArray, ambient_stops: float) -> FloatArray:
    """Return the light (n, 3) that levels and whites give."""
    light = problem.ambient * 2.0**ambient_stops
    for source, stop, white in zip(problem.sources, stops, mired, strict=True):
        light = light + 2.0**stop * source.at(float(white))[0]
    return np.asarray(light)


def logs(light: FloatArray) -> FloatArray:
    """Return what is compared of light (n, 3): log2 of luminance, of red over green, of blue over green."""
    lit = np.maximum(light, 0.0) + FLOOR
    luma = np.maximum(light @ LUMA, 0.0) + FLOOR
    green = np.log2(lit[:, 1])
    return np.stack((np.log2(luma), np.log2(lit[:, 0]) - green, np.log2(lit[:, 2]) - green), axis=1)


def slopes_of(light: FloatArray) -> FloatArray:
    """Return d logs / d light, (n, 3, 3); 0 where the light is below 0."""
    lit = np.where(light > 0.0, 1.0 / (np.maximum(light, 0.0) + FLOOR), 0.0) / np.log(2.0)
    total = light @ LUMA
    luma = np.where(total > 0.0, 1.0 / (np.maximum(total, 0.0) + FLOOR), 0.0) / np.log(2.0)
    slopes = np.zeros((len(light), 3, 3))
    slopes[:, 0] = luma[:, None] * LUMA
    slopes[:, 1, 0], slopes[:, 1, 1] = lit[:, 0], -lit[:, 1]
    slopes[:, 2, 2], slopes[:, 2, 1] = lit[:, 2], -lit[:, 1]
    return slopes


def weights(problem: Problem, stops: FloatArray) -> FloatArray:
    """Return the weight of each residual (n, 3): less where the light of stills or reference is uncertain."""
    plain = np.repeat(np.sqrt(problem.weight)[:, None], 3, axis=1)
    if not problem.doubts:
        return plain
    variance = problem.target_doubt**2
    for source, stop in zip(problem.sources, stops, strict=True):
        variance = variance + (2.0**stop * source.doubt) ** 2
    slopes = slopes_of(np.maximum(problem.target, 1e-6))
    spread = np.einsum("nij,nj->ni", slopes**2, variance)
    return np.asarray(plain * _MISFIT / np.sqrt(_MISFIT**2 + spread))


def start(problem: Problem) -> tuple[FloatArray, FloatArray]:
    """Return (stops, mired) by non-negative least squares over each lamp's warmest and coolest light."""
    from scipy.optimize import nnls

    columns, owners = [], []
    for i, source in enumerate(problem.sources):
        for end in (0,) if source.one_colour else (0, -1):
            columns.append(source.light[end])
            owners.append((i, end))
    scale = np.sqrt(problem.weight)[:, None] / (np.maximum(problem.target, 0.0) + FLOOR)
    if problem.doubts:
        scale = scale * weights(problem, np.full(len(problem.sources), -2.0))
    matrix = np.stack([(column * scale).ravel() for column in columns], axis=1)
    aim = ((problem.target - problem.ambient) * scale).ravel()
    size = np.maximum(np.linalg.norm(matrix, axis=0), 1e-12)
    parts = nnls(matrix / size, aim, maxiter=40 * len(columns))[0] / size
    stops, mired = [], []
    for i, source in enumerate(problem.sources):
        mine = {end: part for (owner, end), part in zip(owners, parts, strict=True) if owner == i}
        total = sum(mine.values())
        stops.append(np.log2(max(total, 2.0**DARKEST)))
        warm = mine.get(-1, 0.0) / total if total > 0.0 else 0.5
        mired.append(float(source.mired[0] + warm * (source.mired[-1] - source.mired[0])))
    return np.clip(stops, DARKEST, BRIGHTEST), np.array(mired)


def solve(problem: Problem, starts: Sequence[tuple[FloatArray, FloatArray]] = ()) -> Solution:
    """Return the best of a few starts, each finished by bounded least squares."""
    first = start(problem)
    counts = np.flatnonzero(problem.weight > 0.0)
    few = problem.some(counts[np.linspace(0, len(counts) - 1, min(len(counts), _SOME)).astype(np.intp)])
    tried = [_finish(few, stops, mired, 15) for stops, mired in (first, *starts, *_others(problem, first))]
    best = min(tried, key=lambda solution: solution.cost)
    if len(few.weight) < len(counts):
        best = _finish(problem.some(counts), best.stops, best.mired, 12)
    return _finish(problem, best.stops, best.mired, 8)


def _others(problem: Problem, first: tuple[FloatArray, FloatArray]) -> list[tuple[FloatArray, FloatArray]]:
    """Starts apart from the first: every lamp alike, and lamps that were out back in at a little."""
    middle = np.array([float(source.mired[[0, -1]].mean()) for source in problem.sources])
    level = float(np.median(first[0])) if len(first[0]) else 0.0
    return [(np.full(len(middle), max(level, -6.0)), middle), (np.maximum(first[0], -5.0), middle)]


@dataclass(frozen=True, slots=True, eq=False)
class _Bounds:
    """Of the unknowns: stops, mireds, the ambient's stops."""

    low: FloatArray
    high: FloatArray
    home: FloatArray
    pull: FloatArray
    """How strongly each is drawn home, for what the pictures do not say."""


def _bounds(problem: Problem, stops: FloatArray, mired: FloatArray, strength: float) -> _Bounds:
    k = len(problem.sources)
    known = problem.exposure is not None
    ambient = problem.exposure if problem.exposure is not None else max(0.0, float(stops.max(initial=0.0)))
    loose = 4.0 if problem.doubts and not known else 0.0
    top = BRIGHTEST if problem.exposure is None else problem.exposure
    warm, cool = ([float(s.mired[end]) for s in problem.sources] for end in (-1, 0))
    return _Bounds(
        low=np.concatenate((np.full(k, DARKEST), cool, [ambient - loose])),
        high=np.concatenate((np.full(k, top), warm, [ambient + loose])),
        home=np.concatenate((np.minimum(stops, top), mired, [ambient])),
        pull=strength
        * np.concatenate((np.full(k, _RIDGE_STOPS), np.full(k, _RIDGE_MIRED), [4.0 * _RIDGE_STOPS])) ** 2,
    )


def _finish(problem: Problem, stops: FloatArray, mired: FloatArray, steps: int) -> Solution:
    """Bounded Gauss–Newton, damped after Levenberg and Marquardt; large residuals count less (soft L1)."""
    k = len(problem.sources)
    weight, aim = weights(problem, stops), logs(problem.target)
    bounds = _bounds(problem, stops, mired, float((weight**2).sum()) * 0.01)
    x = np.clip(bounds.home, bounds.low, bounds.high)
    damping, (cost, rest, soft) = 1e-3, _cost(problem, x, aim, weight, bounds)
    for _ in range(steps):
        jacobian = _jacobian(problem, x, k) * (weight * np.sqrt(soft))[:, :, None]
        flat = jacobian.reshape(-1, 2 * k + 1)
        normal = flat.T @ flat + np.diag(bounds.pull)
        slope = flat.T @ (rest * weight * np.sqrt(soft)).ravel() + bounds.pull * (x - bounds.home)
        better = False
        for _ in range(6):
            step = _step(normal, slope, damping, x, bounds)
            trial = _cost(problem, x + step, aim, weight, bounds)
            if trial[0] < cost:
                better, damping = True, damping * 0.2
                break
            damping *= 8.0
        if not better:
            break
        gained, x = cost - trial[0], x + step
        cost, rest, soft = trial
        if gained < 1e-6 * cost:
            break
    return Solution(x[:k], x[k : 2 * k], float(x[-1]), cost, _jacobian(problem, x, k), rest)


def _cost(
    problem: Problem, x: FloatArray, aim: FloatArray, weight: FloatArray, bounds: _Bounds
) -> tuple[float, FloatArray, FloatArray]:
    """The cost, the residuals (n, 3), and how much each of them counts for its size."""
    k = len(problem.sources)
    rest = logs(picture(problem, x[:k], x[k : 2 * k], float(x[-1]))) - aim
    squares = (rest * weight) ** 2
    drawn = float((bounds.pull * (x - bounds.home) ** 2).sum())
    if not problem.doubts:
        return float(squares.sum()) + drawn, rest, np.ones_like(rest)
    scale = (2.0 * _MISFIT) ** 2
    root = np.sqrt(1.0 + squares / scale)
    return float((2.0 * scale * (root - 1.0)).sum()) + drawn, rest, 1.0 / root


def _jacobian(problem: Problem, x: FloatArray, k: int) -> FloatArray:
    """Slopes (n, 3, 2k + 1) of what is compared, by stops, mireds and the ambient's stops."""
    each = np.empty((*problem.target.shape, 2 * k + 1))
    for i, source in enumerate(problem.sources):
        light, slope = source.at(float(x[k + i]))
        gain = 2.0 ** float(x[i])
        each[:, :, i], each[:, :, k + i] = gain * light, gain * slope
    each[:, :, -1] = problem.ambient * 2.0 ** float(x[-1])
    light = each[:, :, :k].sum(axis=2) + each[:, :, -1]
    each[:, :, :k] *= np.log(2.0)
    each[:, :, -1] *= np.log(2.0)
    return np.asarray(slopes_of(light) @ each)


def _step(
    normal: FloatArray, slope: FloatArray, damping: float, x: FloatArray, bounds: _Bounds
) -> FloatArray:
    """The damped step; an unknown that would leave its bounds is held there and the others are solved
    again."""
    size = np.maximum(np.diag(normal), 1e-12)
    damped = normal + damping * np.diag(size)
    free = ~(((x <= bounds.low) & (slope > 0.0)) | ((x >= bounds.high) & (slope < 0.0)))
    step = np.zeros_like(x)
    for _ in range(len(x)):
        step[free] = np.linalg.solve(
            damped[np.ix_(free, free)], -(slope + damped @ np.where(free, 0.0, step))[free]
        )
        out = free & ((x + step < bounds.low) | (x + step > bounds.high))
        if not out.any():
            break
        step[out] = np.clip(x + step, bounds.low, bounds.high)[out] - x[out]
        free &= ~out
    return step
