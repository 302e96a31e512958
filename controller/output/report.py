"""Report: what each lamp does under a frame, in numbers and in sentences. For clients, not for every tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from controller.colour.adaptation import swatches
from controller.colour.spaces import uv60_to_xy, uv76_to_uv60
from controller.colour.table import uv76_to_white_fast, white_to_uv76_fast
from controller.documents.light import White
from controller.documents.show import Fixture
from controller.output.calibration import Calibration, share_corrected
from controller.output.decoder import light_of
from controller.output.dimming import FloatArray, IntArray, darkest_step, level_of_slots, output_of
from controller.output.groups import Group, Rows
from controller.output.modes import ByteArray, ModeEncoder, Reach, Targets
from controller.output.notes import Facts, notes_on
from controller.output.whites import ROUNDING, as_white, in_round_numbers
from controller.playback.frame import Frame


@dataclass(frozen=True, slots=True)
class FixtureReport:
    """What one lamp does."""

    id: str
    level: float
    """As asked, 0–1."""
    output: float
    """Fraction of the full light of its colour, the level through the dimming law."""
    light: float
    """Fraction of the most light that the fixture can give at any colour; less than ``output`` by what the
    colour costs and by even output."""
    xy: tuple[float, float]
    """CIE 1931 chromaticity reached after all clamps, before the rounding of slots."""
    white: White | None
    """The same as a white, if it is one (|Duv| ≤ 0.05 within 1000–25 000 K)."""
    off_by: float
    """Distance of that from the colour asked for, Δu′v′ in CIE 1976."""
    rounding: float
    """How far the rounding of slots takes the colour from ``xy``, Δu′v′, as decoded from the slots; 0 where
    they are black."""
    notes: tuple[str, ...]
    """Clamps and colours out of reach, one sentence each."""
    slots: tuple[int, ...]
    """Its slots in address order."""
    drives: dict[str, float]
    """Drive 0–1 at full level by emitter; empty where the fixture mixes its emitters itself."""
    darkest_level: float
    """The lowest level above black that it can show in this colour; from half of it on it is lit."""
    swatch: str
    """#rrggbb as the camera sees the colour at its white balance."""


class Reporter:
    """Reports on the lamps of one rig."""

    def __init__(
        self, fixtures: Sequence[Fixture], groups: Sequence[Group], calibrated: Rows, calibration: Calibration
    ) -> None:
        self._fixtures = fixtures
        self._groups = groups
        self._calibrated = calibrated
        self._calibration = calibration

    def report(
        self, frame: Frame, asked_uv: FloatArray, targets: Targets, slots: ByteArray, white_balance_k: float
    ) -> list[FixtureReport]:
        """Return the reports in rig order; ``slots`` are those of all universes laid end to end."""
        reached, light = asked_uv.copy(), np.zeros(len(asked_uv))
        reaches: list[Reach] = []
        for group in self._groups:
            reach = group.encoder.reach(targets.take(group.rows))
            reached[group.rows], light[group.rows] = reach.uv, reach.light
            reaches.append(reach)
        self._as_measured(reached, frame)
        facts = self._facts(frame, asked_uv, targets, reached)
        shades = swatches(facts.xy, white_balance_k)
        reports: dict[int, FixtureReport] = {}
        for group, reach in zip(self._groups, reaches, strict=True):
            mine = targets.take(group.rows)
            output = output_of(mine.level, group.encoder.law)
            values = group.encoder.values(mine)
            dark, coarse = group.encoder.dark(values), _coarse(group.encoder, values, reach)
            for i, row in enumerate(group.rows.tolist()):
                fixture, encoder = self._fixtures[row], group.encoder
                darkest = darkest_step(encoder.profile, encoder.mode, float(reach.strongest[i]))
                reports[row] = FixtureReport(
                    id=fixture.id,
                    level=float(mine.level[i]),
                    output=float(output[i]),
                    light=float(output[i] * light[row]),
                    xy=(float(facts.xy[row, 0]), float(facts.xy[row, 1])),
                    white=_white(facts, row),
                    off_by=float(facts.off_by[row]),
                    rounding=0.0 if dark[i] else float(coarse[i]),
                    notes=notes_on(
                        facts, row, fixture, encoder, bool(dark[i]), darkest.level, float(coarse[i])
                    ),
                    slots=tuple(slots[group.places[i].reshape(-1)].tolist()),
                    drives=dict(zip(encoder.emitters, reach.drives[i].tolist(), strict=True)),
                    darkest_level=darkest.level,
                    swatch=shades[row],
                )
        return [reports[row] for row in range(len(self._fixtures))]

    def _as_measured(self, reached: FloatArray, frame: Frame) -> None:
        """Turn what the calibrated lamps were asked for into what a meter reads then, in place."""
        rows = self._calibrated
        if not len(rows):
            return
        mired, duv = uv76_to_white_fast(reached[rows])
        shift = white_to_uv76_fast(*self._calibration.measured(mired, duv)) - white_to_uv76_fast(mired, duv)
        reached[rows] += shift * share_corrected(duv, frame.white[rows])[:, None]

    def _facts(self, frame: Frame, asked_uv: FloatArray, targets: Targets, reached: FloatArray) -> Facts:
        off_by = np.hypot(*(reached - asked_uv).T)
        off_by[off_by < ROUNDING] = 0.0
        mired, duv, is_white = as_white(reached)
        exact = frame.white & (off_by == 0.0)  # what was asked, to the last digit
        beyond = np.zeros(len(reached))
        if len(self._calibrated):
            rows = self._calibrated
            asked_mired = np.where(frame.white, frame.mired, uv76_to_white_fast(asked_uv)[0])
            beyond[rows] = self._calibration.beyond(asked_mired[rows])
        return Facts(
            frame=frame,
            targets=targets,
            asked_xy=uv60_to_xy(uv76_to_uv60(asked_uv)),
            xy=uv60_to_xy(uv76_to_uv60(reached)),
            off_by=off_by,
            is_white=is_white,
            mired=np.where(exact, frame.mired, mired),
            duv=np.where(exact, frame.duv, duv),
            beyond=beyond,
        )


def _coarse(encoder: ModeEncoder, values: IntArray, reach: Reach) -> FloatArray:
    """How far, in Δu′v′, the rounding of slots takes each lamp's colour from what it reaches."""
    shares = level_of_slots(values, [channel.bits for channel in encoder.mode.channels])
    uv, _ = light_of(encoder, shares[:, None, :])
    return np.asarray(np.hypot(*(uv - reach.uv).T), dtype=np.float64)


def _white(facts: Facts, row: int) -> White | None:
    if not facts.is_white[row]:
        return None
    cct_k, duv = in_round_numbers(float(facts.mired[row]), float(facts.duv[row]))
    return White(cct_k=cct_k, duv=duv)
