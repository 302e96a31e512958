"""Camera as meter: how one lamp's whites differ from another's on this camera, from a grey card's pictures.

A camera whose sensitivities, white balance and curve are not known cannot say which white a card has; it can
say how two lamps differ on it. What a card's log R/G and log B/G are is taken as the sum of

- what a middling camera would see of the white, turned by an unknown 2 × 2 matrix,
- the white balance, and a smooth rest that both lamps share: this camera's own view of whites,
- a smooth rest that the lamp alone has: the difference that is sought,
- an unknown bend of the tone curve, which shows where one white is pictured at two exposures, and noise.

Each has a spread that is known beforehand, all are Gaussian, and so the differences and how sure they are
follow from linear algebra (Gaussian process regression: C. E. Rasmussen, C. K. I. Williams, *Gaussian
Processes for Machine Learning*, MIT Press 2006, chapter 2). How noisy the stills are beyond what a card's own
grain tells is chosen by the likelihood (chapter 5 there). The spreads are own choices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.colour.locus_table import nearest_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xyz
from onecrew.fixtures.calibration import DUV_PER_MIRED

_SENSOR = np.array([[0.7, -0.2, -0.05], [-0.45, 1.25, 0.2], [-0.07, 0.15, 0.6]])
"""XYZ → red, green and blue of a middling camera: own choice, near those that raw files carry."""
_TURN = np.diag([1.6, 1.4])
_TURNED = np.array([[0.6, 0.3], [0.3, 0.4]])
"""The matrix that turns its log ratios into another camera's, and the spread of its entries."""
_BALANCE, _SHARED = 3.0, 0.04
"""Spreads: of the balance, of the rest that both lamps share."""
_OWN, _OWN_WHITE = 0.1, 0.006
"""Spreads of what the lamp alone has: smooth over its whites, and at each white by itself."""
_SMOOTH_MIRED = 100.0
_BENDS = (0.05, 0.02)
"""Spreads of the square and the cube of log light in an unknown tone curve."""
_STILL_TO_STILL = 0.002
"""Spread of a still's ratios that no grain shows: flicker, a shadow that moved."""
_NOISIER = (1.0, 2.0, 4.0, 8.0, 16.0)
_HELD_UV = 1e-3
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
    def beyond_whites(self) -> bool:
        """Whether that is past Duv ±0.05, where CIE 15:2004 has no colour temperature; it ends there."""
        uv = white_to_uv76_fast(self.mired, self.duv) + self.kept
        return bool(np.hypot(*(uv - white_to_uv76_fast(*self.read_as))) > _HELD_UV)


def differences(
    other: Sequence[Card], lamp: Sequence[Card], *, curve_known: bool = False
) -> tuple[Difference, ...]:
    """Return how each white of ``lamp`` differs from that white of ``other``, for every one pictured."""
    cards = (*other, *lamp)
    mine = np.array([False] * len(other) + [True] * len(lamp))
    whites = np.array([(card.mired, card.duv / DUV_PER_MIRED) for card in cards])
    told = _ratios(white_to_uv76_fast(whites[:, 0], whites[:, 1] * DUV_PER_MIRED))
    told = told - told.mean(axis=0)
    asked = np.unique(whites[mine], axis=0)
    light = np.array([card.log_rgb for card in cards])
    seen = (light[:, (0, 2)] - light[:, 1:2]) - told @ _TURN.T

    near = _alike(whites, whites)
    same = (np.abs(whites[:, None, :] - whites[None, :, :]).sum(axis=2) < 1e-6).astype(float)
    both = mine[:, None] & mine[None, :]
    own = both * (_OWN**2 * near + _OWN_WHITE**2 * same)
    prior = np.kron(np.eye(2), _BALANCE**2 + _SHARED**2 * near + own)
    turns = np.zeros((4, 2 * len(cards)))  # by matrix entry: how it moves each ratio
    for entry in range(4):
        turns[entry].reshape(2, -1)[entry // 2] = told[:, entry % 2] * _TURNED.flat[entry]
    prior += turns.T @ turns
    bent = light - light[:, 1].mean()
    for power, spread in zip((2, 3), _BENDS, strict=True):
        bend = (bent[:, (0, 2)] ** power - bent[:, 1:2] ** power).T.reshape(-1)
        prior += (spread * (0.1 if curve_known else 1.0)) ** 2 * np.outer(bend, bend)
    sigma = np.array([card.sigma for card in cards])
    grain = np.kron(np.ones((2, 2)), np.diag(sigma[:, 1] ** 2))
    grain += np.diag(np.concatenate((sigma[:, 0], sigma[:, 2])) ** 2)
    grain += _STILL_TO_STILL**2 * np.kron(np.array([[1.0, 0.5], [0.5, 1.0]]), np.eye(len(cards)))
    values = seen.T.reshape(-1)
    solved = max((_solved(prior + times**2 * grain, values) for times in _NOISIER), key=lambda one: one[0])
    _, inverse = solved

    at = _alike(asked, whites) * _OWN**2
    at += _OWN_WHITE**2 * (np.abs(asked[:, None, :] - whites[None, :, :]).sum(axis=2) < 1e-6)
    at *= mine[None, :]
    alone = _OWN**2 + _OWN_WHITE**2
    turned = _TURN + _TURNED * (turns @ inverse @ values).reshape(2, 2)
    found = []
    for row, (mired, scaled) in zip(at, asked, strict=True):
        gain = np.kron(np.eye(2), row[None, :])
        ratio = gain @ inverse @ values
        doubt = alone * np.eye(2) - gain @ inverse @ gain.T
        back = np.linalg.inv(turned @ _slope(mired, scaled * DUV_PER_MIRED))
        shift, error = back @ ratio, back @ doubt @ back.T
        found.append(
            Difference(float(mired), float(scaled * DUV_PER_MIRED), shift, error, never_worse(shift, error))
        )
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


def _solved(covariance: FloatArray, values: FloatArray) -> tuple[float, FloatArray]:
    """Log likelihood of the values, and the inverse of their covariance."""
    inverse = np.linalg.inv(covariance)
    _, size = np.linalg.slogdet(covariance)
    return float(-0.5 * (values @ inverse @ values + size)), np.asarray(inverse, dtype=np.float64)


def _alike(one: FloatArray, other: FloatArray) -> FloatArray:
    apart = ((one[:, None, :] - other[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * apart / _SMOOTH_MIRED**2))


def _ratios(uv: FloatArray) -> FloatArray:
    """(…, 2): log R/G and log B/G of the middling camera."""
    log = np.log(np.maximum(uv76_to_xyz(uv) @ _SENSOR.T, 1e-6))
    return np.asarray(np.stack((log[..., 0] - log[..., 1], log[..., 2] - log[..., 1]), axis=-1))


def _slope(mired: float, duv: float) -> FloatArray:
    """(2, 2): how the log ratios change with u′ and v′ at a white."""
    uv = white_to_uv76_fast(mired, duv)
    step = 1e-4 * np.eye(2)
    return np.asarray((_ratios(uv + step) - _ratios(uv - step)).T / 2e-4)
