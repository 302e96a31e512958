"""Beam: how a source's intensity falls away from its axis.

A beam of cosine power, I(θ) = I₀ cosⁿ θ, is fixed by its beam angle (full angle at half of the intensity on
the axis): n = ln ½ / ln cos(β/2). A stated field angle (full angle at a tenth) bends the flank: with
t = −ln cos θ the law is I₀ exp(−a tᵇ), which is cosⁿ for b = 1 and passes through both angles. Past 180° of
beam there is no axis: such a source gives the same every way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from onecrew.colour.arrays import FloatArray

LAMBERT_DEG = 120.0
"""Beam angle of a flat diffuse source, whose intensity falls as cos θ."""
ALL_ROUND_DEG = 180.0
"""From this beam angle on a source gives the same every way."""
_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(200)


@dataclass(frozen=True)
class Beam:
    """A beam by its full angles in degrees; without ``field_deg`` the flank is a plain cosine power."""

    beam_deg: float = LAMBERT_DEG
    field_deg: float | None = None

    @property
    def all_round(self) -> bool:
        return self.beam_deg >= ALL_ROUND_DEG

    @cached_property
    def power(self) -> tuple[float, float]:
        """(a, b) of the law exp(−a tᵇ); b is 1 and a the cosine power n without a field angle."""
        half = -math.log(math.cos(math.radians(self.beam_deg / 2)))
        if self.field_deg is None:
            return math.log(2.0) / half, 1.0
        tenth = -math.log(max(math.cos(math.radians(self.field_deg / 2)), 1e-9))
        bend = math.log(math.log(10.0) / math.log(2.0)) / math.log(tenth / half)
        return math.log(2.0) / half**bend, bend

    def shape(self, cosine: FloatArray) -> FloatArray:
        """Intensity against that on the axis at angles of these cosines; 0 behind the source."""
        if self.all_round:
            return np.ones_like(cosine)
        ahead = np.maximum(cosine, 0.0)
        a, b = self.power
        if b == 1.0:
            return np.asarray(ahead if a == 1.0 else ahead**a, dtype=np.float64)
        fall = -np.log(np.clip(ahead, 1e-12, 1.0))
        return np.asarray(np.where(cosine > 0.0, np.exp(-a * fall**b), 0.0), dtype=np.float64)

    @cached_property
    def lumens_per_cd(self) -> float:
        """Flux for one candela on the axis: 2π / (n + 1) for a cosine power, 4π for a source all round.

        >>> round(1000 / Beam(30.0).lumens_per_cd)
        3341
        """
        if self.all_round:
            return 4.0 * math.pi
        a, b = self.power
        if b == 1.0:
            return 2.0 * math.pi / (a + 1.0)
        cosine = (_GAUSS_X + 1.0) / 2.0
        return float(math.pi * (_GAUSS_W @ self.shape(cosine)))
