"""How each kind of mode says light in slots: a dimmer alone, emitters, or whites by CCT and tint.

A fixture's dimming law belongs to the channels that carry the level. That is the dimmer where there is one,
told the level as it is, and the emitter channels are then linear and carry the colour alone; without a
dimmer it is every emitter channel, told the level that the law needs for drive × output, so that the
chromaticity is the same at every level.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.colour.spaces import uv76_to_uv60, xy_to_uv76
from controller.colour.table import white_to_uv76_fast
from controller.documents.profile import Mode, Profile
from controller.output.calibration import share_corrected
from controller.output.dimming import (
    BoolArray,
    FloatArray,
    IntArray,
    law_of,
    level_of,
    output_of,
    slots_of_level,
    slots_of_output,
    slots_of_share,
)
from controller.output.emitters import Blend

ByteArray = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Targets:
    """What is asked of k lamps, after calibration."""

    level: FloatArray
    """(k,), 0–1."""
    white: BoolArray
    """(k,), whether the colour was told as a white."""
    uv: FloatArray
    """(k, 2), CIE 1976 chromaticity."""
    mired: FloatArray
    """(k,); with ``duv`` the same colour, or the white nearest to it, where a mode works in whites."""
    duv: FloatArray
    dim: FloatArray
    """(k,), the share of its light to which even output turns each white down for what a meter read."""

    def take(self, rows: NDArray[np.intp]) -> Targets:
        """Return the targets of some of the lamps."""
        return Targets(
            self.level[rows],
            self.white[rows],
            self.uv[rows],
            self.mired[rows],
            self.duv[rows],
            self.dim[rows],
        )


@dataclass(frozen=True, slots=True)
class Reach:
    """What k lamps give of what was asked, at full level and before any rounding."""

    uv: FloatArray
    """(k, 2), CIE 1976 chromaticity."""
    light: FloatArray
    """(k,), the light as a fraction of the most that the fixture can give."""
    drives: FloatArray
    """(k, n) by emitter, empty where a mode has none to tell."""
    strongest: FloatArray
    """(k,), how far the channel that carries the level is opened at level 1, 0–1: see ``darkest_step``."""


class ModeEncoder(ABC):
    """Turns targets into the channel values of one block, and tells what they will give."""

    emitters: tuple[str, ...] = ()
    """Names of the emitters whose drives ``reach`` tells."""

    def __init__(self, profile: Profile, mode: Mode) -> None:
        self.profile = profile
        self.mode = mode
        self.law = law_of(profile)
        self._resting = np.array([channel.fixed or 0 for channel in mode.channels], dtype=np.int64)
        self._dimmer_at = _position(mode, "dimmer")
        self._dimmer_bits = mode.dimmer.bits if mode.dimmer is not None else 8

    @abstractmethod
    def values(self, targets: Targets) -> IntArray:
        """Return the channel values of k lamps, (k, channels)."""

    @abstractmethod
    def reach(self, targets: Targets) -> Reach:
        """Return what k lamps will give."""

    def dark(self, values: IntArray) -> BoolArray:
        """Return where the channel values mean black, (k,)."""
        return np.asarray(values[:, self._dimmer_at] == 0)

    def full_light(self, uv: FloatArray) -> FloatArray:
        """Return the light, as in ``Reach.light``, that colours (k, 2) give with even output off, (k,)."""
        return np.ones(len(uv))

    def turned(self, full_light: FloatArray, dim: FloatArray) -> FloatArray:
        """Return the share of ``full_light`` (k,) that even output leaves; ``dim`` as in ``Targets``."""
        del dim
        return np.ones_like(full_light)

    def _resting_values(self, k: int) -> IntArray:
        """The values that no light changes, the rest 0."""
        return np.repeat(self._resting[None, :], k, axis=0)


def mode_encoder(profile: Profile, mode: Mode, mixing: str, even: bool) -> ModeEncoder:
    """Return the encoder for a mode of a profile."""
    if mode.emitters:
        return EmitterMode(profile, mode, mixing, even)
    if mode.cct is not None:
        return WhiteMode(profile, mode, even)
    return DimmerMode(profile, mode)


class DimmerMode(ModeEncoder):
    """One emitter whose colour is what it is; only its level can be told."""

    def __init__(self, profile: Profile, mode: Mode) -> None:
        super().__init__(profile, mode)
        self.emitters = tuple(profile.emitters)[:1]
        self._uv = xy_to_uv76(np.array(profile.emitters[self.emitters[0]].xy))

    def values(self, targets: Targets) -> IntArray:
        values = self._resting_values(len(targets.level))
        values[:, self._dimmer_at] = slots_of_level(targets.level, self.law, self._dimmer_bits)
        return values

    def reach(self, targets: Targets) -> Reach:
        k = len(targets.level)
        return Reach(np.repeat(self._uv[None, :], k, axis=0), np.ones(k), np.ones((k, 1)), np.ones(k))


class EmitterMode(ModeEncoder):
    """Emitters told one by one, with a dimmer that carries the level or without."""

    def __init__(self, profile: Profile, mode: Mode, mixing: str, even: bool) -> None:
        super().__init__(profile, mode)
        self.emitters = mode.emitters
        self.blend = Blend(profile, mode.emitters, mixing, even)
        at = [i for i, channel in enumerate(mode.channels) if channel.emitter is not None]
        self._emitters_at = np.array(at)
        self._bits = np.array([mode.channels[i].bits for i in at])

    def values(self, targets: Targets) -> IntArray:
        drives = self.blend.solve(targets.uv, targets.dim).drives
        values = self._resting_values(len(targets.level))
        if self.mode.dimmer is None:
            output = output_of(targets.level, self.law)[:, None]
            values[:, self._emitters_at] = slots_of_output(drives * output, self.law, self._bits)
            return values
        dimmer = slots_of_level(targets.level, self.law, self._dimmer_bits)
        values[:, self._dimmer_at] = dimmer
        values[:, self._emitters_at] = slots_of_share(drives, self._bits) * (dimmer > 0)[:, None]
        return values

    def reach(self, targets: Targets) -> Reach:
        blended = self.blend.solve(targets.uv, targets.dim)
        strongest = blended.drives.max(axis=1) if self.mode.dimmer is None else np.ones(len(blended.light))
        return Reach(blended.reached, blended.light, blended.drives, strongest)

    def dark(self, values: IntArray) -> BoolArray:
        if self.mode.dimmer is not None:
            return super().dark(values)
        return np.asarray(values[:, self._emitters_at].max(axis=1) == 0)

    def full_light(self, uv: FloatArray) -> FloatArray:
        return self.blend.full_light(uv)

    def turned(self, full_light: FloatArray, dim: FloatArray) -> FloatArray:
        return self.blend.turned(full_light, dim)


class WhiteMode(ModeEncoder):
    """Whites told by CCT, maybe with a tint; the fixture mixes them by itself.

    A colour told as xy goes to the white nearest to it in CIE 1960 (u, v). How much light each white has is
    not told by the mode: the profile's emitters at their brightest stand in for it, if there are several.
    """

    def __init__(self, profile: Profile, mode: Mode, even: bool) -> None:
        super().__init__(profile, mode)
        assert mode.cct is not None and mode.cct.cct is not None
        by_kelvin = sorted(mode.cct.cct.points, key=lambda point: point[1])
        self._cct_shares, self._cct_k = np.array(by_kelvin).T
        self._cct_at, self._cct_bits = _position(mode, "cct"), mode.cct.bits
        self.low_k, self.high_k = float(self._cct_k[0]), float(self._cct_k[-1])
        self.has_tint = mode.tint is not None and mode.tint.tint is not None
        self._tint_shares = self._tint_duv = np.zeros(1)
        if mode.tint is not None and mode.tint.tint is not None:
            tint = mode.tint.tint
            points = [(0.0, tint.low_duv), (tint.neutral, 0.0), (1.0, tint.high_duv)]
            self._tint_shares, self._tint_duv = np.array(sorted(points, key=lambda point: point[1])).T
            self._tint_at, self._tint_bits = _position(mode, "tint"), mode.tint.bits
        self.low_duv, self.high_duv = float(self._tint_duv[0]), float(self._tint_duv[-1])
        self.even = even
        names = tuple(profile.emitters)
        several = len(names) > 1
        self.blend = Blend(profile, names, "brightest", even, self.low_k, self.high_k) if several else None

    def values(self, targets: Targets) -> IntArray:
        values = self._resting_values(len(targets.level))
        cct_k, duv = self._clamped(targets)
        values[:, self._cct_at] = slots_of_share(
            np.interp(cct_k, self._cct_k, self._cct_shares), self._cct_bits
        )
        if self.has_tint:
            share = np.interp(duv, self._tint_duv, self._tint_shares)
            values[:, self._tint_at] = slots_of_share(share, self._tint_bits)
        level = targets.level
        if self.even:
            full = self.full_light(white_to_uv76_fast(1e6 / cct_k, duv))
            turned = self.turned(full, targets.dim)
            level = level_of(output_of(level, self.law) * turned, self.law)
        values[:, self._dimmer_at] = slots_of_level(level, self.law, self._dimmer_bits)
        return values

    def reach(self, targets: Targets) -> Reach:
        cct_k, duv = self._clamped(targets)
        uv = white_to_uv76_fast(1e6 / cct_k, duv)
        full = self.full_light(uv)
        turned = self.turned(full, targets.dim)
        return Reach(uv, full * turned, np.zeros((len(uv), 0)), turned)

    def full_light(self, uv: FloatArray) -> FloatArray:
        return np.ones(len(uv)) if self.blend is None else self.blend.full_light(uv)

    def turned(self, full_light: FloatArray, dim: FloatArray) -> FloatArray:
        if not self.even:
            return np.ones_like(full_light)
        return dim if self.blend is None else self.blend.turned(full_light, dim)

    def _clamped(self, targets: Targets) -> tuple[FloatArray, FloatArray]:
        """(kelvin, Duv) as near to the targets as the channels go."""
        cct_k = np.clip(1e6 / targets.mired, self.low_k, self.high_k)
        duv = targets.duv
        if not targets.white.all():
            duv = np.where(targets.white, duv, _nearest_tint(targets, cct_k))
        return cct_k, np.clip(duv, self.low_duv, self.high_duv)


def _nearest_tint(targets: Targets, cct_k: FloatArray) -> FloatArray:
    """Duv of the point nearest to each colour on the iso-temperature line of ``cct_k``, which was clamped.

    Near the locus it is the colour's own Duv, so that a fade from a white keeps the white's clamps.
    """
    mired = 1e6 / cct_k
    low, mid, high = (uv76_to_uv60(white_to_uv76_fast(mired, duv)) for duv in (-0.01, 0.0, 0.01))
    across = ((uv76_to_uv60(targets.uv) - mid) * (high - low)).sum(axis=1) / 0.02
    away = np.hypot(*(white_to_uv76_fast(targets.mired, targets.duv) - targets.uv).T)
    like_a_white = share_corrected(targets.duv, targets.white) * np.clip(1.0 - away / 0.02, 0.0, 1.0)
    return np.asarray(across + (targets.duv - across) * like_a_white)


class Packing:
    """How the channel values of a mode lie in its slots, coarse before fine."""

    def __init__(self, mode: Mode) -> None:
        order = [(i, part) for i, channel in enumerate(mode.channels) for part in range(channel.width)]
        self.width = len(order)
        """Slots of one block."""
        self._source = np.array([i for i, _ in order])
        widths = [mode.channels[i].width for i, _ in order]
        self._shift = np.array(
            [8 * (width - 1 - part) for width, (_, part) in zip(widths, order, strict=True)]
        )

    def slots(self, values: IntArray) -> ByteArray:
        """Return the slots of k blocks, (k, width), from their channel values (k, channels)."""
        slots: ByteArray = ((values[:, self._source] >> self._shift) & 0xFF).astype(np.uint8)
        return slots


def _position(mode: Mode, kind: str) -> int:
    """Index of the mode's channel of a kind, or −1."""
    return next((i for i, channel in enumerate(mode.channels) if getattr(channel, kind) is not None), -1)
