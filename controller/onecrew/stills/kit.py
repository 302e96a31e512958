"""Kit: the light that each lamp gives at each white, by the project's own fixture model.

``output`` is the fraction of the full light of a colour, and some colours have more light than others: a
still at output 1 and 2700 K and one at output 1 and 4300 K differ in light as the fixture does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.colour.spaces import xyy_to_xyz
from onecrew.errors import Mistake
from onecrew.fixtures.describe import describe_lights
from onecrew.fixtures.emitters import has_spectra
from onecrew.fixtures.groups import looked_up
from onecrew.fixtures.report import FixtureReport
from onecrew.playback.laws import law_of, level_of, output_of
from onecrew.show.light import Light, White
from onecrew.show.profile import Emitter, Profile
from onecrew.show.show import Fixture
from onecrew.stills.shotlist import Shot

GRID = 25
"""Whites of a lamp at which its light is worked out; straight between them."""
_WARMEST_K, _COOLEST_K = 1800.0, 12000.0
_STILLS_K = (2200.0, 8000.0)
_REACHED = 0.004
"""Δu′v′ from the white asked for, up to which a white counts as within a lamp's range."""


@dataclass(frozen=True, slots=True)
class LampWhite:
    """What one lamp gives: one point of its whites, at full output."""

    mired: float | None
    """As asked; None for a lamp of one colour."""
    xyz: FloatArray
    """(3,), relative to the most light that the fixture can give."""


@dataclass(frozen=True, slots=True)
class LampOutput:
    """What leaves a lamp, read back from its slots."""

    level: float
    output: float
    cct_k: float | None
    duv: float | None
    slots: tuple[int, ...]
    xyz: FloatArray
    """(3,), as in ``LampWhite`` but at this output."""


class Lamp:
    """A fixture of the show as a source of light. Raises ``Mistake`` for a profile that is not there."""

    def __init__(self, fixture: Fixture, profiles: Mapping[str, Profile]) -> None:
        self.id = fixture.id
        self.fixture = fixture.model_copy(update={"universe": 1, "address": 1})
        self._profiles = profiles
        self._profile, mode = looked_up(fixture, profiles)
        self.one_colour = mode.one_colour
        self._mixed = mode.emitters
        self._told = mode.cct is not None or (mode.tells_colours and not mode.emitters)
        """It mixes its whites itself: nobody knows how much light each has, so that what the stills show
        counts, straight between them."""

    @property
    def emitters(self) -> Mapping[str, Emitter]:
        """By name, what it mixes its whites of; none where it mixes them itself or a spectrum is not told."""
        emitters = {name: self._profile.emitters[name] for name in self._mixed}
        return emitters if has_spectra(list(emitters.values())) else {}

    def given(self, shot: Shot) -> LampWhite:
        """Return what the lamp gave at full output in the colour of a still."""
        if self.one_colour:
            return self._whites([None])[0]
        if shot.cct_k is None:
            raise Mistake(
                f"{shot.file}: {self.id} has many whites, and the list does not say which; add cct_k"
            )
        return self._whites([(1e6 / shot.cct_k, shot.duv)])[0]

    def output(self, shot: Shot) -> float:
        """Return the output of a still, from its level where the list gives that."""
        return shot.output if shot.level is None else float(output_of(shot.level, law_of(self._profile)))

    def whites(self, shots: Sequence[Shot]) -> list[LampWhite]:
        """Return the whites that may be solved for: between the stills, or all it has where there is one."""
        if self.one_colour:
            return self._whites([None])
        asked = [1e6 / shot.cct_k for shot in shots if shot.cct_k is not None]
        if max(asked) - min(asked) > 5.0:
            return self._whites([(float(m), 0.0) for m in np.linspace(min(asked), max(asked), GRID)])
        grid = np.linspace(1e6 / _COOLEST_K, 1e6 / _WARMEST_K, 2 * GRID)
        reports = self.reports([(float(m), 0.0) for m in grid])
        good = [m for m, report in zip(grid, reports, strict=True) if report.off_by < _REACHED]
        low, high = (min(good), max(good)) if good else (asked[0], asked[0] + 1.0)
        return self._whites([(float(m), 0.0) for m in np.linspace(low, high, GRID)])

    def range_k(self) -> tuple[float, float] | None:
        """Return the warmest and the coolest white for stills, kelvin in round numbers; None for one colour.

        Whites beyond ``_STILLS_K`` are hardly asked of a lamp, and a blend is the better the nearer its ends.
        """
        if self.one_colour:
            return None
        ends = self.reports([(1e6 / k, 0.0) for k in _STILLS_K])
        warm, cool = (
            k if report.white is None else round(report.white.cct_k, -2)
            for k, report in zip(_STILLS_K, ends, strict=True)
        )
        return warm, cool

    def level(self, output: float) -> float:
        """Return the level, 0–1, that gives an output."""
        return float(level_of(output, law_of(self._profile)))

    def leaves(self, output: float, mired: float | None) -> LampOutput:
        """Return what leaves for an output and a white asked: levels, white and light from the slots."""
        level = self.level(output)
        [report] = self.reports([None if mired is None else (mired, 0.0)], level)
        white = report.white
        cct_k, duv = (None, None) if white is None else (white.cct_k, white.duv)
        xyz = xyy_to_xyz(np.array(report.xy)) * (report.output if self._told else report.light)
        return LampOutput(report.level, report.output, cct_k, duv, report.slots, xyz)

    def _whites(self, asked: Sequence[tuple[float, float] | None]) -> list[LampWhite]:
        return [
            LampWhite(
                None if white is None else white[0],
                xyy_to_xyz(np.array(report.xy)) * (1.0 if self._told else report.light),
            )
            for white, report in zip(asked, self.reports(asked), strict=True)
        ]

    def reports(self, asked: Sequence[tuple[float, float] | None], level: float = 1.0) -> list[FixtureReport]:
        """Return what leaves the lamp for whites asked, each (mired, Duv), or None for its one colour."""
        lights = [
            Light(level=level, white=None if white is None else White(cct_k=1e6 / white[0], duv=white[1]))
            for white in asked
        ]
        return describe_lights(self.fixture, self._profiles, lights)
