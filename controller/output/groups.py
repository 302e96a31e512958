"""Groups: the fixtures of a rig that are encoded together, and where their slots go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.colour.table import white_to_uv76_fast
from controller.documents.profile import Mode, Profile
from controller.documents.show import Fixture
from controller.errors import Mistake
from controller.output.calibration import Calibration
from controller.output.modes import ByteArray, ModeEncoder, Packing, Targets, mode_encoder

Rows = NDArray[np.intp]
SLOTS = 512
"""Slots of a universe (ANSI E1.11)."""


@dataclass(frozen=True, slots=True)
class Group:
    """All fixtures of one profile, mode, mixing and even output."""

    encoder: ModeEncoder
    packing: Packing
    rows: Rows
    """(k,), their places in the rig's order."""
    places: Rows
    """(k, segments, slots of a block), where their slots lie in the universes laid end to end."""

    def slots(self, targets: Targets) -> ByteArray:
        """Return one block of slots for each of the group's lamps, (k, slots of a block)."""
        return self.packing.slots(self.encoder.values(targets.take(self.rows)))


def grouped(
    fixtures: Sequence[Fixture], profiles: Mapping[str, Profile], universes: Sequence[int]
) -> tuple[Group, ...]:
    """Return the groups of a rig; every fixture is in exactly one.

    Raises ``Mistake`` for a fixture whose profile or mode is not known or that runs past its universe.
    """
    members: dict[tuple[str, str, str, bool], list[int]] = {}
    for row, fixture in enumerate(fixtures):
        kind = (fixture.profile, fixture.mode, fixture.mixing, fixture.even)
        members.setdefault(kind, []).append(row)
    groups = []
    for (_, _, mixing, even), rows in members.items():
        profile, mode = looked_up(fixtures[rows[0]], profiles)
        packing = Packing(mode)
        starts = [_start(fixtures[row], mode, universes) for row in rows]
        block = np.arange(mode.segments)[:, None] * packing.width + np.arange(packing.width)
        places = np.array(starts, dtype=np.intp)[:, None, None] + block
        encoder = mode_encoder(profile, mode, mixing, even)
        groups.append(Group(encoder, packing, np.array(rows, dtype=np.intp), places))
    return tuple(groups)


def calibrated(fixtures: Sequence[Fixture], groups: Sequence[Group]) -> tuple[Rows, Calibration]:
    """Return the rows of the fixtures that have readings, and their calibration in that order."""
    rows = np.array([row for row, fixture in enumerate(fixtures) if fixture.calibration], dtype=np.intp)
    encoder_of = {int(row): group.encoder for group in groups for row in group.rows}
    tables = [fixtures[row].calibration for row in rows]
    promised = []
    for row, table in zip(rows, tables, strict=True):
        mired = np.array([1e6 / reading.asked_cct_k for reading in table])
        duv = np.array([reading.asked_duv for reading in table])
        promised.append(encoder_of[int(row)].full_light(white_to_uv76_fast(mired, duv)))
    return rows, Calibration(tables, promised)


def looked_up(fixture: Fixture, profiles: Mapping[str, Profile]) -> tuple[Profile, Mode]:
    """Return a fixture's profile and mode; ``Mistake`` if there is none of that name."""
    profile = profiles.get(fixture.profile)
    if profile is None:
        raise Mistake(f"{fixture.id} is a {fixture.profile}, and there is no profile of that name")
    mode = profile.mode(fixture.mode)
    if mode is None:
        names = ", ".join(mode.name for mode in profile.modes)
        raise Mistake(f"{fixture.id} has mode {fixture.mode}; the modes of {fixture.profile} are {names}")
    return profile, mode


def _start(fixture: Fixture, mode: Mode, universes: Sequence[int]) -> int:
    last = fixture.address + mode.width - 1
    if last > SLOTS:
        raise Mistake(
            f"{fixture.id} at address {fixture.address} would end at {last}, past the {SLOTS} slots of "
            f"universe {fixture.universe}; give it an address up to {SLOTS + 1 - mode.width}"
        )
    return universes.index(fixture.universe) * SLOTS + fixture.address - 1
