"""Views: a lamp's whites as each camera of a population would see them."""

from __future__ import annotations

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.colour.locus_table import nearest_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import xy_to_uv76
from onecrew.fixtures.report import FixtureReport
from onecrew.stills.kit import Lamp
from onecrew.stills.population import seen_emitters, seen_whites

_STEP_UV = 2e-3
_LEAST_STEP_UV = 5e-4
"""Δu′v′ that a lamp must move both ways at a white for its own slope there."""


class View:
    """One lamp before the cameras of the population; ``seed`` tells one lamp from another of its kind."""

    def __init__(self, lamp: Lamp, seed: int) -> None:
        self._lamp, self._seed = lamp, seed
        self.known = bool(lamp.emitters)
        """Whether its emitters have spectra; else it stands as a lamp of any."""
        if self.known:
            self._seen = seen_emitters(list(lamp.emitters.values()), seed)

    def ratios(self, whites: FloatArray) -> FloatArray:
        """Return log R/G and log B/G of whites asked for, each (mired, Duv): (cameras, k, 2)."""
        return self._ratios(self._reports(whites))

    def slopes(self, whites: FloatArray) -> FloatArray | None:
        """Return how these change with u′ and v′ at the whites, (cameras, k, 2, 2).

        Where the lamp hardly moves from one, the slope is that of the white next to it; None where it has no
        tint at any.
        """
        steps = np.array([(_STEP_UV, 0.0), (-_STEP_UV, 0.0), (0.0, _STEP_UV), (0.0, -_STEP_UV)])
        asked = white_to_uv76_fast(whites[:, 0], whites[:, 1])[:, None] + steps
        reports = self._reports(np.stack(nearest_white_fast(asked.reshape(-1, 2)), axis=-1))
        reached = xy_to_uv76(np.array([one.unrounded.xy for one in reports])).reshape(-1, 4, 2)
        seen = self._ratios(reports).reshape(-1, len(whites), 4, 2)
        reached -= reached.mean(axis=1, keepdims=True)
        moves = np.linalg.svd(reached, compute_uv=False)[:, 1] > _LEAST_STEP_UV
        if not moves.any():
            return None
        slopes = np.einsum("nksr,kus->nkru", seen, np.linalg.pinv(reached))
        from_here = np.abs(whites[:, 0][:, None] - whites[:, 0]) + np.where(moves, 0.0, 1e6)
        return np.asarray(slopes[:, from_here.argmin(axis=1)])

    def _reports(self, whites: FloatArray) -> list[FixtureReport]:
        return self._lamp.reports([(float(mired), float(duv)) for mired, duv in whites])

    def _ratios(self, reports: list[FixtureReport]) -> FloatArray:
        if self.known:
            drives = np.array(
                [[one.drives.get(name, 0.0) for name in self._lamp.emitters] for one in reports]
            )
            light = np.einsum("ke,nec->nkc", drives, self._seen)
        else:
            light = seen_whites(np.array([one.unrounded.xy for one in reports]), self._seed)
        log = np.log(np.maximum(light, 1e-9))
        return np.asarray(log[..., (0, 2)] - log[..., 1:2])
