"""Ladder: a camera's own curve, from stills of one lamp at eleven known outputs or so.

Light adds, so that light(code) − light(code in the dark) = output × what the lamp gives at the place. In
logs the output is known, what the lamp gives falls out as a mean, and the curve remains: the known curve
that comes nearest, times a smooth correction. After P. Debevec, J. Malik, "Recovering high dynamic range
radiance maps from photographs", SIGGRAPH 1997, with the lamp's output in the place of the exposure time.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake
from onecrew.stills.shotlist import Shot
from onecrew.stills.transfer import CURVES, Curve, from_points

FEWEST_STEPS = 5
_KNOTS = 24
_PLACES = 800
_ROUNDS = 8
_SMOOTH = 0.02
"""Against the correction's bends, in log light."""
_SIGMA_CODE, _SIGMA_LOG = 0.002, 0.01
"""What a code value and a step of the ladder are off by."""


def ladder_of(shots: Sequence[Shot]) -> list[int]:
    """Return the places in a list of the longest ladder: stills of one lamp and white at many outputs."""
    groups: dict[tuple[str, float | None, float], dict[float, int]] = {}
    for i, shot in enumerate(shots):
        if shot.lamp is not None:
            output = shot.output if shot.level is None else shot.level
            groups.setdefault((shot.lamp, shot.cct_k, shot.duv), {}).setdefault(output, i)
    longest = max(groups.values(), key=len, default={})
    return [longest[output] for output in sorted(longest)] if len(longest) >= FEWEST_STEPS else []


def curve_from_ladder(codes: FloatArray, outputs: FloatArray, dark: FloatArray, clip: float) -> Curve:
    """Return the curve by which a ladder's light rises as its outputs do.

    ``codes`` (steps, n) are code values 0–1 at n places, ``dark`` (n,) without the lamp, ``outputs`` (steps,)
    known. Raises ``Mistake`` where they span too little to say anything.
    """
    good = (codes < clip) & (codes > dark + 0.004)
    places = np.flatnonzero(good.sum(axis=0) >= 3)
    if len(places) < 20:
        raise Mistake(
            "the ladder shows too few places that change and are not clipped; raise the lamp or expose more"
        )
    order = places[np.argsort(codes[-1, places], kind="stable")]
    chosen = order[np.linspace(0, len(order) - 1, min(_PLACES, len(order))).astype(np.intp)]
    codes, dark, good = codes[:, chosen], dark[chosen], good[:, chosen]
    step, place = np.nonzero(good)
    seen, dim = codes[step, place], dark[place]
    told = np.log(outputs[step])
    tried = [_Ladder(curve, seen, dim, told, place) for curve in CURVES.values()]
    best = min(tried, key=lambda ladder: ladder.misfit(np.zeros(_KNOTS)))
    correction: FloatArray = np.zeros(_KNOTS)
    for _ in range(_ROUNDS):
        correction = best.improved(correction)
    fine = np.asarray(np.linspace(0.0, 1.0, 1024), dtype=np.float64)
    light = best.light(fine, correction)
    return from_points("ladder", fine, np.maximum.accumulate(light + 1e-12 * np.arange(len(fine))))


class _Ladder:
    """The steps of a ladder seen through one known curve and a correction of it."""

    def __init__(
        self, curve: Curve, seen: FloatArray, dim: FloatArray, told: FloatArray, place: NDArray[np.intp]
    ) -> None:
        self._curve = curve
        self._black = float(curve.decode(min(float(dim.min()), float(seen.min()))))
        low = min(float(dim.min()), float(seen.min()))
        self._knots: FloatArray = np.linspace(low, float(seen.max()), _KNOTS).astype(np.float64)
        self._seen, self._dim, self._told, self._place = seen, dim, told, place
        self._hats, self._dim_hats = _hats(seen, self._knots), _hats(dim, self._knots)

    def light(self, codes: FloatArray, correction: FloatArray) -> FloatArray:
        """Light of code values: above 0 at the darkest that is seen, so that a correction can act there."""
        above = np.maximum(self._curve.decode(codes) - self._black, 0.0)
        return np.asarray(above * np.exp(_hats(codes, self._knots) @ correction))

    def misfit(self, correction: FloatArray) -> float:
        """How far the steps are off, in units of what they may be off by."""
        rest, weight, _ = self._rest(correction)
        return float(np.mean(np.minimum(np.abs(rest * weight), 20.0)))

    def improved(self, correction: FloatArray) -> FloatArray:
        """One Gauss–Newton step."""
        rest, weight, slopes = self._rest(correction)
        bends = np.diff(np.eye(_KNOTS), 2, axis=0) * _SMOOTH * np.sqrt(len(rest) / _KNOTS) / _SIGMA_LOG
        anchor = np.eye(_KNOTS)[-1:] * 1e3
        matrix = np.vstack((slopes * weight[:, None], bends, anchor))
        aim = -np.concatenate((rest * weight, bends @ correction, correction[-1:] * 1e3))
        step = np.linalg.lstsq(matrix, aim, rcond=None)[0]
        return np.asarray(correction + np.clip(step, -0.7, 0.7))

    def _rest(self, correction: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Residuals in log light without what is the place's own, their weights, and slopes by the knots."""
        light, black = self.light(self._seen, correction), self.light(self._dim, correction)
        slope = (self.light(self._seen + 1e-3, correction) - light) / 1e-3
        alone = np.maximum(light - black, 1e-3 * light + 1e-9)
        weight = 1.0 / np.hypot(_SIGMA_LOG, _SIGMA_CODE * slope / alone)
        slopes = (light[:, None] * self._hats - black[:, None] * self._dim_hats) / alone[:, None]
        total = np.bincount(self._place, weight**2)

        def without_place(values: FloatArray) -> FloatArray:
            mean = np.bincount(self._place, values * weight**2) / np.maximum(total, 1e-12)
            return np.asarray(values - mean[self._place])

        rest = without_place(np.log(alone) - self._told)
        huge = np.maximum(np.abs(rest * weight) / 4.0, 1.0)
        return rest, weight / np.sqrt(huge), np.stack([without_place(column) for column in slopes.T], axis=1)


def _hats(values: FloatArray, knots: FloatArray) -> FloatArray:
    """Shares (m, knots) by which values lie between their two neighbouring knots."""
    cell = np.clip(np.searchsorted(knots, values, side="right") - 1, 0, len(knots) - 2)
    share = np.clip((values - knots[cell]) / (knots[cell + 1] - knots[cell]), 0.0, 1.0)
    shares = np.zeros((len(values), len(knots)))
    rows = np.arange(len(values))
    shares[rows, cell], shares[rows, cell + 1] = 1.0 - share, share
    return shares
