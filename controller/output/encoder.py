"""Encoder: a frame of lights → the slots of every universe.

Set up once for a rig; then every frame is a handful of array operations for each kind of fixture (same
profile, mode, mixing and even output), however many fixtures there are of it. Kinds none of whose lamps
changed since the frame before keep their slots: a level set on one lamp costs one kind's work.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from controller.colour.table import (
    DUV_LIMIT,
    MIRED_MAX,
    MIRED_MIN,
    nearest_white_fast,
    warm_up,
    white_to_uv76_fast,
)
from controller.documents.profile import Profile
from controller.documents.show import Fixture
from controller.output.calibration import share_corrected
from controller.output.dimming import BoolArray, FloatArray, clamped
from controller.output.groups import SLOTS, Group, calibrated, grouped
from controller.output.modes import ByteArray, Targets, WhiteMode
from controller.output.report import FixtureReport, Reporter
from controller.playback.frame import Frame

__all__ = ["Encoder", "FixtureReport"]


class Encoder:
    """Encodes frames for a rig, and reports what the lamps then do.

    Raises ``Mistake`` for a fixture whose profile or mode is not known or that runs past its universe.
    """

    def __init__(self, fixtures: Sequence[Fixture], profiles: Mapping[str, Profile]) -> None:
        warm_up()
        fixtures = tuple(fixtures)
        self.universes: tuple[int, ...] = tuple(sorted({fixture.universe for fixture in fixtures}))
        """The universes in use, rising: the order of the rows that ``encode`` returns."""
        self._groups = grouped(fixtures, profiles, self.universes)
        self._ones = np.ones(len(fixtures))
        self._calibrated, self._calibration = calibrated(fixtures, self._groups)
        self._wants_white = np.zeros(len(fixtures), dtype=bool)
        for group in self._groups:
            self._wants_white[group.rows] = isinstance(group.encoder, WhiteMode)
        self._wants_white[self._calibrated] = True
        self._shown: tuple[NDArray[Any], ...] | None = None
        self._slots = np.zeros(len(self.universes) * SLOTS, dtype=np.uint8)
        """What ``_shown``, the arrays of the last frame, encodes to."""
        self._reporter = Reporter(fixtures, self._groups, self._calibrated, self._calibration)

    def encode(self, frame: Frame) -> ByteArray:
        """Return the slots of every universe, (universes, 512), as new memory."""
        asked = (frame.level, frame.white, frame.mired, frame.duv, frame.u, frame.v)
        changed = self._changed(asked)
        stale = [group for group in self._groups if changed[group.rows].any()]
        if stale:
            self._shown = None  # until the slots are whole again
            self._fill(self._slots, self._targets(frame, self._asked_uv(frame)), stale)
            self._shown = tuple(array.copy() for array in asked)
        return self._slots.copy().reshape(-1, SLOTS)

    def report(self, frame: Frame, white_balance_k: float) -> list[FixtureReport]:
        """Return what each lamp does under ``frame``, in rig order; ``white_balance_k`` is the camera's."""
        asked_uv = self._asked_uv(frame)
        targets = self._targets(frame, asked_uv)
        slots = self.encode(frame).reshape(-1)
        return self._reporter.report(frame, asked_uv, targets, slots, white_balance_k)

    def _changed(self, asked: tuple[NDArray[Any], ...]) -> BoolArray:
        """Which lamps are asked for something else than in the frame before, (n,)."""
        changed = np.full(len(asked[0]), self._shown is None)
        for old, new in zip(self._shown or (), asked, strict=False):
            changed |= old != new
        return changed

    def _fill(self, slots: NDArray[np.uint8], targets: Targets, groups: Iterable[Group]) -> None:
        """Writes the slots of some groups into the universes laid end to end."""
        for group in groups:
            slots[group.places] = group.slots(targets)[:, None, :]

    def _asked_uv(self, frame: Frame) -> FloatArray:
        """The chromaticities asked for, (n, 2) in CIE 1976, before calibration and the lamps' limits."""
        uv = white_to_uv76_fast(frame.mired, frame.duv)
        if not frame.white.all():
            other = ~frame.white
            # Whatever comes, keep within the part of the diagram where light can be.
            uv[other, 0] = np.fmin(np.fmax(frame.u[other], 0.0), 0.7)
            uv[other, 1] = np.fmin(np.fmax(frame.v[other], 0.01), 0.65)
        return uv

    def _targets(self, frame: Frame, asked_uv: FloatArray) -> Targets:
        """What to ask of every lamp: the frame's lights, corrected by their calibration."""
        mired = np.fmin(np.fmax(frame.mired, MIRED_MIN), MIRED_MAX)
        duv = np.fmin(np.fmax(frame.duv, -DUV_LIMIT), DUV_LIMIT)
        unclear = self._wants_white & ~frame.white
        if unclear.any():
            mired[unclear], duv[unclear] = nearest_white_fast(asked_uv[unclear])
        uv, dim, rows = asked_uv, self._ones, self._calibrated
        if len(rows):
            uv, dim = uv.copy(), dim.copy()
            dim[rows] = self._calibration.to_the_weakest(mired[rows], duv[rows])
            ask_mired, ask_duv = self._calibration.correct(mired[rows], duv[rows])
            shift = white_to_uv76_fast(ask_mired, ask_duv) - white_to_uv76_fast(mired[rows], duv[rows])
            uv[rows] += shift * share_corrected(duv[rows], frame.white[rows])[:, None]
            mired[rows], duv[rows] = ask_mired, ask_duv
        return Targets(clamped(frame.level), frame.white, uv, mired, duv, dim)
