"""Decoder: slots and the patch → what each lamp gives. The encoder's counterpart, and its check.

It reads slots by their addresses, adds up emitters, and undoes dimming law, even output and calibration (a
calibrated lamp is taken to give what its meter readings say).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from controller.colour.adaptation import swatches
from controller.colour.spaces import uv60_to_xy, uv76_to_uv60, xy_to_uv76, xyy_to_xyz, xyz_to_xy
from controller.colour.table import uv76_to_white_fast, white_to_uv76_fast
from controller.documents.profile import Mode, Profile
from controller.documents.show import Fixture
from controller.output.calibration import share_corrected
from controller.output.dimming import FloatArray, law_of, level_of, level_of_slots, output_of
from controller.output.groups import Group, calibrated, grouped
from controller.output.modes import ModeEncoder, WhiteMode
from controller.output.whites import as_white, in_round_numbers


@dataclass(frozen=True, slots=True)
class Seen:
    """What one lamp gives, as its slots say."""

    id: str
    level: float
    output: float
    """Fraction of the full light of its colour."""
    light: float
    """Fraction of the most light that the fixture can give at any colour."""
    xy: tuple[float, float]
    """CIE 1931 chromaticity; of a lamp that is black, the one it would begin with."""
    cct_k: float | None
    """With ``duv``, the colour as a white; None if it is none."""
    duv: float | None
    swatch: str
    """#rrggbb as the camera sees it at its white balance."""


class Decoder:
    """Reads the lamps of a rig out of slots.

    Raises ``Mistake`` for a fixture whose profile or mode is not known or that runs past its universe.
    """

    def __init__(
        self,
        fixtures: Sequence[Fixture],
        profiles: Mapping[str, Profile],
        white_balance_k: float = 5600.0,
    ) -> None:
        self._fixtures = tuple(fixtures)
        universes = sorted({fixture.universe for fixture in fixtures})
        self._groups = grouped(self._fixtures, profiles, universes)
        self._calibrated, self._calibration = calibrated(self._fixtures, self._groups)
        self._white_balance_k = white_balance_k

    def decode(self, slots: Mapping[int, bytes]) -> list[Seen]:
        """Return what each lamp gives, in rig order, from the slots of each universe by its number.

        Slots that are not there count as 0, and so do those of a universe that is not there.
        """
        n = len(self._fixtures)
        uv, light = np.zeros((n, 2)), np.zeros(n)
        for group in self._groups:
            shares = np.array([self._shares(self._fixtures[row], group, slots) for row in group.rows])
            uv[group.rows], light[group.rows] = light_of(group.encoder, shares)
        measured, dim = self._as_measured(uv)
        level, output = np.zeros(n), np.zeros(n)
        for group in self._groups:
            rows, encoder = group.rows, group.encoder
            full = encoder.full_light(uv[rows])
            if isinstance(encoder, WhiteMode):
                light[rows] *= full
            full = full * encoder.turned(full, dim[rows])
            output[rows] = np.minimum(light[rows] / np.maximum(full, 1e-12), 1.0)
            level[rows] = level_of(output[rows], encoder.law)
        mired, duv, is_white = as_white(measured)
        xy = uv60_to_xy(uv76_to_uv60(measured))
        shades = swatches(xy, self._white_balance_k)
        named = [in_round_numbers(*pair) for pair in zip(mired.tolist(), duv.tolist(), strict=True)]
        return [
            Seen(
                id=fixture.id,
                level=float(level[i]),
                output=float(output[i]),
                light=float(light[i]),
                xy=(float(xy[i, 0]), float(xy[i, 1])),
                cct_k=named[i][0] if is_white[i] else None,
                duv=named[i][1] if is_white[i] else None,
                swatch=shades[i],
            )
            for i, fixture in enumerate(self._fixtures)
        ]

    def _shares(self, fixture: Fixture, group: Group, slots: Mapping[int, bytes]) -> list[list[float]]:
        """Each channel's value as a share of its range, by segment."""
        mode = group.encoder.mode
        whole = bytes(slots.get(fixture.universe, b"")).ljust(512, b"\0")
        at = fixture.address - 1
        segments = []
        for _ in range(mode.segments):
            shares = []
            for channel in mode.channels:
                value = int.from_bytes(whole[at : at + channel.width], "big")
                shares.append(float(level_of_slots(value, channel.bits)))
                at += channel.width
            segments.append(shares)
        return segments

    def _as_measured(self, uv: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The colours that a meter reads, and to which share even output turns them for its readings."""
        rows, dim = self._calibrated, np.ones(len(uv))
        if not len(rows):
            return uv, dim
        mired, duv = uv76_to_white_fast(uv[rows])
        read_mired, read_duv = self._calibration.measured(mired, duv)
        shift = white_to_uv76_fast(read_mired, read_duv) - white_to_uv76_fast(mired, duv)
        measured = uv.copy()
        measured[rows] += shift * share_corrected(duv, False)[:, None]
        dim[rows] = self._calibration.to_the_weakest(read_mired, read_duv)
        return measured, dim


def light_of(encoder: ModeEncoder, shares: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Colour (k, 2) in CIE 1976 and light (k,) of lamps from their channels (k, segments, channels).

    The light is a fraction of the most that the fixture can give; where the fixture mixes its whites itself,
    of the full light of that white.
    """
    mode, profile, law = encoder.mode, encoder.profile, law_of(encoder.profile)
    dimmed = [output_of(shares[:, :, i], law) for i, channel in enumerate(mode.channels) if channel.dimmer]
    if not mode.emitters:
        output = dimmed[0].mean(axis=1)
        if mode.cct is not None:
            return _white(mode, shares.mean(axis=1)), output
        [emitter] = profile.emitters.values()
        return np.repeat(xy_to_uv76(np.array([emitter.xy])), len(shares), axis=0), output
    told = shares[:, :, [i for i, channel in enumerate(mode.channels) if channel.emitter is not None]]
    drives = told * dimmed[0][:, :, None] if dimmed else output_of(told, law)
    emitters = [profile.emitters[name] for name in mode.emitters]
    flux = np.array([emitter.flux for emitter in emitters])
    each = xyy_to_xyz(np.array([emitter.xy for emitter in emitters]), flux / flux.sum())
    xyz = drives.mean(axis=1) @ each
    light = xyz[:, 1].copy()
    xyz[light == 0.0] = each.sum(axis=0)
    return xy_to_uv76(xyz_to_xy(xyz)), light


def _white(mode: Mode, shares: FloatArray) -> FloatArray:
    """Colour (k, 2) in CIE 1976 that a CCT channel and maybe a tint channel ask for; shares (k, channels)."""
    cct_k, duv = np.zeros(len(shares)), np.zeros(len(shares))
    for i, channel in enumerate(mode.channels):
        if channel.cct is not None:
            points = np.array(channel.cct.points)
            cct_k[:] = np.interp(shares[:, i], points[:, 0], points[:, 1])
        elif channel.tint is not None:
            tint = channel.tint
            duv[:] = np.interp(shares[:, i], [0.0, tint.neutral, 1.0], [tint.low_duv, 0.0, tint.high_duv])
    return white_to_uv76_fast(1e6 / cct_k, duv)
