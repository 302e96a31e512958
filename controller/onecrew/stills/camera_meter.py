"""Camera as meter: how one lamp's whites differ from another's on this camera, from a grey card's pictures.

A camera whose sensitivities, white balance and curve are not known cannot say which white a card has; it can
say how two lamps differ on it. What a card's log R/G and log B/G are is taken as the sum of

- what the cameras of a population see of the lamp, as its profile tells its spectra (``population``),
- the white balance, and a smooth rest that both lamps share: this camera's own view of whites,
- a smooth rest that the lamp alone has,
- an unknown bend of the tone curve, which shows where one white is pictured at two exposures, and noise.

Of the population those count whose cards come nearest to the pictures, and their spread is taken as Gaussian
(approximate Bayesian computation with a regression: M. A. Beaumont, W. Zhang, D. J. Balding, Genetics 162
(2002) 2025). The rest has spreads that are own choices, and so the differences and how sure they are follow
from linear algebra (Gaussian process regression: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for
Machine Learning*, MIT Press 2006, chapter 2). How noisy the stills are beyond what a card's own grain tells
is chosen by the likelihood (chapter 5 there).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.colour.locus_table import nearest_white_fast, white_to_uv76_fast
from onecrew.fixtures.calibration import DUV_PER_MIRED
from onecrew.stills.views import View

_NEAREST = 1000
"""So many of the population count."""
_BALANCE, _SHARED = 1.0, 0.02
"""Spreads: of the balance beyond theirs, of the rest that both lamps share."""
_OWN, _OWN_UNKNOWN, _OWN_WHITE = 0.04, 0.2, 0.006
"""Spreads of what the lamp alone has: smooth over its whites, where its spectrum is told and where it is not,
and at each white by itself."""
_SMOOTH_MIRED = 100.0
_BENDS = (0.05, 0.02)
"""Spreads of the square and the cube of log light in an unknown tone curve."""
_STILL_TO_STILL = 0.002
"""Spread of a still's ratios that no grain shows: flicker, a shadow that moved."""
_NOISIER = (1.0, 2.0, 4.0, 8.0, 16.0)
_HELD_UV = 1e-3
_MOST_UV = 0.02
"""Δu′v′ that a difference is followed at once: further off, its slope may be another (own choice)."""
_SURE = 2.0
"""Standard errors that a difference may be off by."""


@dataclass(frozen=True, slots=True)
class Card:
    """A grey card in one still: linear light by the curve that the picture is taken to have."""

    mired: float
    """The white that left the lamp, by its profile and its readings."""
    duv: float
    log_rgb: FloatArray
    """(3,), natural logarithm of the mean light."""
    sigma: FloatArray
    """(3,), standard error of that."""


@dataclass(frozen=True, slots=True)
class Difference:
    """How a lamp's white differs from the other lamp's on the camera."""

    mired: float
    duv: float
    shift: FloatArray
    """(2,), Δ(u′, v′) as seen, in the colours of the CIE's observer."""
    error: FloatArray
    """(2, 2), covariance of that."""
    kept: FloatArray
    """(2,), the part of the shift that makes the lamp no worse if the stills are off by their errors."""

    @property
    def off_by(self) -> float:
        """Δu′v′ between the two lamps as seen."""
        return float(np.hypot(*self.shift))

    @property
    def spread(self) -> float:
        """Standard error of that, Δu′v′."""
        return float(np.sqrt(np.trace(self.error)))

    @property
    def expected(self) -> float:
        """Δu′v′ that is to be expected once what is kept is corrected."""
        return float(np.hypot(np.hypot(*(self.shift - self.kept)), self.spread))

    @property
    def read_as(self) -> tuple[float, float]:
        """The (mired, Duv) of the other lamp that looks like this white on the camera, by what is kept."""
        uv = white_to_uv76_fast(self.mired, self.duv) + self.kept
        mired, duv = nearest_white_fast(uv[None, :])
        return float(mired[0]), float(duv[0])

    @property
    def beyond_one_step(self) -> bool:
        """Whether the lamp is off by more than is corrected at once."""
        return bool(np.hypot(*self.kept) > _MOST_UV - 1e-9)

    @property
    def beyond_whites(self) -> bool:
        """Whether that is past Duv ±0.05, where CIE 15:2004 has no colour temperature; it ends there."""
        uv = white_to_uv76_fast(self.mired, self.duv) + self.kept
        return bool(np.hypot(*(uv - white_to_uv76_fast(*self.read_as))) > _HELD_UV)


def differences(
    other: Sequence[Card],
    lamp: Sequence[Card],
    views: tuple[View, View],
    *,
    curve_known: bool = False,
    beside: Sequence[Card] = (),
) -> tuple[Difference, ...]:
    """Return how each white of ``lamp`` differs from that white of ``other``, for every one pictured.

    ``views`` are those of the other lamp and of the lamp; ``beside`` are more cards of the lamp, at whites
    that are not asked about.
    """
    cards = (*other, *lamp, *beside)
    mine = np.arange(len(cards)) >= len(other)
    whites = np.array([(card.mired, card.duv) for card in cards])
    asked = np.unique(whites[len(other) : len(other) + len(lamp)], axis=0)
    light = np.array([card.log_rgb for card in cards])
    seen = light[:, (0, 2)] - light[:, 1:2]
    drawn = np.concatenate((views[0].ratios(whites[~mine]), views[1].ratios(whites[mine])), axis=1)
    near = _nearest(drawn, seen)
    drawn, sought = drawn[near], (views[1].ratios(asked) - views[0].ratios(asked))[near]
    slopes = next(slopes for view in views if (slopes := view.slopes(asked)) is not None)[near]

    own = _OWN if all(view.known for view in views) else _OWN_UNKNOWN
    fit = _fitted(
        _flat(drawn), _flat(seen[None])[0], _rest(whites, mine, light, own, curve_known), _grain(cards)
    )
    at = mine * _own(asked, whites, own)
    found = []
    for n, (mired, duv) in enumerate(asked):
        ratio, doubt = fit.of(sought[:, n], np.kron(np.eye(2), at[n]))
        doubt = doubt + (own**2 + _OWN_WHITE**2) * np.eye(2)
        slope, _ = fit.of(slopes[:, n].reshape(-1, 4), np.zeros((4, 2 * len(cards))))
        back = np.linalg.inv(slope.reshape(2, 2))
        shift, error = back @ ratio, back @ doubt @ back.T
        kept = never_worse(shift, error)
        kept = kept * min(1.0, _MOST_UV / max(float(np.hypot(*kept)), _MOST_UV))
        found.append(Difference(float(mired), float(duv), shift, error, kept))
    return tuple(found)


def never_worse(shift: FloatArray, error: FloatArray) -> FloatArray:
    """Return the part of a correction that leaves what it corrects no worse for an error within bounds.

    Along each axis of the error: what is off by e and measured as c, |c − e| ≤ q, is left with |e − s·c|,
    which is at most |e| where s ≤ 2 (1 − q / |c|).
    """
    spread, axes = np.linalg.eigh(error)
    along = axes.T @ shift
    bound = _SURE * np.sqrt(np.maximum(spread, 0.0))
    share = np.clip(2.0 * (1.0 - bound / np.maximum(np.abs(along), 1e-12)), 0.0, 1.0)
    return np.asarray(axes @ (share * along))


@dataclass(frozen=True, slots=True)
class _Fit:
    """The population, conditional on the cards."""

    predicted: FloatArray
    """(n, 2k)."""
    inverse: FloatArray
    """Of the covariance of the cards."""
    values: FloatArray
    """The cards off the population's mean."""

    def of(self, sought: FloatArray, beside: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and covariance of what the population has as (n, m); ``beside``: (m, 2k), what ties it to the
        cards besides."""
        gain = _covariance(sought, self.predicted) + beside
        doubt = _covariance(sought, sought) - gain @ self.inverse @ gain.T
        return sought.mean(axis=0) + gain @ self.inverse @ self.values, doubt


def _fitted(predicted: FloatArray, seen: FloatArray, rest: FloatArray, grain: FloatArray) -> _Fit:
    """The fit with as much noise as is likeliest."""
    values, prior = seen - predicted.mean(axis=0), _covariance(predicted, predicted) + rest
    solved = (_solved(prior + times**2 * grain, values) for times in _NOISIER)
    return _Fit(predicted, max(solved, key=lambda one: one[0])[1], values)


def _nearest(drawn: FloatArray, seen: FloatArray) -> NDArray[np.intp]:
    """Which of the population come nearest to the cards, whatever their balance."""
    off = drawn - seen
    off = off - off.mean(axis=1, keepdims=True)
    return np.asarray(np.argsort((off**2).sum(axis=(1, 2)), kind="stable")[:_NEAREST])


def _rest(
    whites: FloatArray, mine: NDArray[np.bool_], light: FloatArray, own: float, curve_known: bool
) -> FloatArray:
    """Covariance of what neither the population nor noise explains."""
    both = mine[:, None] & mine[None, :]
    smooth = _SHARED**2 * _alike(whites, whites)
    rest = np.kron(np.eye(2), _BALANCE**2 + smooth + both * _own(whites, whites, own))
    bent = light - light[:, 1].mean()
    for power, spread in zip((2, 3), _BENDS, strict=True):
        bend = (bent[:, (0, 2)] ** power - bent[:, 1:2] ** power).T.reshape(-1)
        rest += (spread * (0.1 if curve_known else 1.0)) ** 2 * np.outer(bend, bend)
    return np.asarray(rest, dtype=np.float64)


def _grain(cards: Sequence[Card]) -> FloatArray:
    """Covariance of noise: what a card's own grain tells, and what goes from still to still."""
    sigma = np.array([card.sigma for card in cards])
    grain = np.kron(np.ones((2, 2)), np.diag(sigma[:, 1] ** 2))
    grain += np.diag(np.concatenate((sigma[:, 0], sigma[:, 2])) ** 2)
    grain += _STILL_TO_STILL**2 * np.kron(np.array([[1.0, 0.5], [0.5, 1.0]]), np.eye(len(cards)))
    return np.asarray(grain)


def _own(one: FloatArray, other: FloatArray, smooth: float) -> FloatArray:
    """(k, l): covariance of what the lamp alone has at whites."""
    same = np.abs(_scaled(one)[:, None, :] - _scaled(other)[None, :, :]).sum(axis=2) < 1e-6
    return np.asarray(smooth**2 * _alike(one, other) + _OWN_WHITE**2 * same)


def _alike(one: FloatArray, other: FloatArray) -> FloatArray:
    apart = ((_scaled(one)[:, None, :] - _scaled(other)[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * apart / _SMOOTH_MIRED**2))


def _scaled(whites: FloatArray) -> FloatArray:
    """(mired, Duv) with Duv as mired."""
    return np.asarray(whites / (1.0, DUV_PER_MIRED))


def _flat(ratios: FloatArray) -> FloatArray:
    """(n, k, 2) → (n, 2k): the first ratio of each card, then the second."""
    return np.asarray(ratios.transpose(0, 2, 1).reshape(len(ratios), -1))


def _covariance(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray((one - one.mean(axis=0)).T @ (other - other.mean(axis=0)) / len(one))


def _solved(covariance: FloatArray, values: FloatArray) -> tuple[float, FloatArray]:
    """Log likelihood of the values, and the inverse of their covariance."""
    inverse = np.linalg.inv(covariance)
    _, size = np.linalg.slogdet(covariance)
    return float(-0.5 * (values @ inverse @ values + size)), np.asarray(inverse, dtype=np.float64)
