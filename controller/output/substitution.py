"""Substitution: the same looks with one lamp of another kind in the place of one that is away.

Colours are asked for as before; a lamp that was left in the colour it has by nature is told that colour.
Levels are changed so that the new lamp gives the light that the old one gave, through its own dimming law,
or all it has. Light is compared by the flux of the two profiles, or by what a light meter found.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from controller.colour.spaces import xy_to_uv76
from controller.colour.table import white_to_uv76_fast
from controller.documents.check import check_show
from controller.documents.light import Light, White
from controller.documents.patching import footprint, next_free, next_free_anywhere
from controller.documents.profile import Mode, Profile
from controller.documents.show import Cue, Fixture, Rig, Show
from controller.errors import DocumentFaults, Mistake
from controller.output.describe import describe_lights
from controller.output.dimming import FloatArray, law_of, level_of
from controller.output.emitters import has_spectra
from controller.output.groups import looked_up
from controller.output.report import FixtureReport


@dataclass(frozen=True, slots=True)
class Row:
    """What becomes of one cue's light."""

    cue: Cue
    asked: Light
    """In the show as it was."""
    old: FixtureReport
    now: Light
    """In the new show."""
    new: FixtureReport
    off_by: float
    """Between what is asked and what the new lamp gives, Δu′v′ in CIE 1976."""
    apart: float
    """Between what the old lamp gave and what the new one gives."""
    stops_lost: float
    """Light that is missing against the old lamp, at least 0."""


@dataclass(frozen=True, slots=True)
class Substitution:
    """A new show, and what it cost."""

    show: Show
    fixture: Fixture
    rows: tuple[Row, ...]
    """One for each cue that lights the lamp."""
    remarks: tuple[str, ...]


def substituted(
    show: Show,
    profiles: Mapping[str, Profile],
    old: Fixture,
    profile: Profile,
    mode: Mode,
    brighter_stops: float | None = None,
) -> Substitution:
    """Return the show with a fixture of ``profile`` in ``mode`` in the place of ``old``, one of its own.

    ``brighter_stops`` says by how much the new lamp is brighter than the old one, both at full and at the
    camera's white balance; None takes the flux of the profiles for it. Raises ``Mistake`` where there is no
    room in the patch, ``DocumentFaults`` where the new show would have a fault.
    """
    new, remarks = _patched(show, profiles, old, profile, mode)
    gain = _gain(show, profiles, old, new, brighter_stops)
    lit = [
        (cue, cue.look[old.id]) for cue in show.cues if old.id in cue.look and cue.look[old.id].level > 0.0
    ]
    before = describe_lights(old, profiles, [light for _, light in lit], show.camera.white_balance_k)
    rows = [
        _row(cue, asked, was, new, profiles, gain, show.camera.white_balance_k)
        for (cue, asked), was in zip(lit, before, strict=True)
    ]
    changed = _changed(show, new, {row.cue.number: row.now for row in rows})
    known = {(fault.what, fault.mend) for fault in check_show(show, profiles)}
    faults = [f for f in check_show(changed, profiles) if (f.what, f.mend) not in known]
    if faults:
        raise DocumentFaults(f"{old.id} as {profile.id}", faults)
    if brighter_stops is None:
        remarks.append(
            f"light is compared by the flux of the profiles: {old.profile} {_flux(old, profiles):g}, "
            f"{new.profile} {_flux(new, profiles):g}; that holds where both are of one unit"
        )
    return Substitution(changed, new, tuple(rows), tuple(remarks))


# ── The patch ───────────────────────────────────────────────────────────────────────────────────────


def _patched(
    show: Show, profiles: Mapping[str, Profile], old: Fixture, profile: Profile, mode: Mode
) -> tuple[Fixture, list[str]]:
    """The new fixture at its place in the patch, and what there is to say about it."""
    remarks = []
    if old.calibration:
        remarks.append(
            f"the readings of {old.id} belong to the old lamp and are left out: calibrate the new one"
        )
    mixing = old.mixing
    if mixing == "truest" and mode.emitters and not has_spectra([profile.emitters[n] for n in mode.emitters]):
        mixing = "brightest"
        remarks.append(f"mixed brightest, not truest: {profile.id} does not give the spectra of its emitters")
    new = old.model_copy(
        update={"profile": profile.id, "mode": mode.name, "mixing": mixing, "calibration": ()}
    )
    others = Rig(fixtures=tuple(fixture for fixture in show.rig.fixtures if fixture.id != old.id))
    if _fits(new, others, profiles):
        return new, remarks
    free = next_free(others, profiles, old.universe, mode.width)
    place = (old.universe, free) if free is not None else next_free_anywhere(others, profiles, mode.width)
    if place is None:
        raise Mistake(f"no universe has {mode.width} slots in a row left for {profile.id}/{mode.name}")
    moved = new.model_copy(update={"universe": place[0], "address": place[1]})
    remarks.append(
        f"its {mode.width} slots do not fit at {old.universe}.{old.address}: "
        f"set the new lamp to universe {place[0]}, address {place[1]}"
    )
    return moved, remarks


def _fits(new: Fixture, others: Rig, profiles: Mapping[str, Profile]) -> bool:
    span = footprint(new, profiles)
    taken = [footprint(one, profiles) for one in others.fixtures if one.universe == new.universe]
    return span.stop <= 513 and all(span.stop <= one.start or one.stop <= span.start for one in taken)


def _changed(show: Show, new: Fixture, lights: Mapping[str, Light]) -> Show:
    fixtures = tuple(new if fixture.id == new.id else fixture for fixture in show.rig.fixtures)
    cues = tuple(
        cue.model_copy(update={"look": {**cue.look, new.id: lights[cue.number]}})
        if cue.number in lights
        else cue
        for cue in show.cues
    )
    rig = show.rig.model_copy(update={"fixtures": fixtures})
    return show.model_copy(update={"rig": rig, "cues": cues})


# ── One light ───────────────────────────────────────────────────────────────────────────────────────


def _row(
    cue: Cue,
    asked: Light,
    was: FixtureReport,
    new: Fixture,
    profiles: Mapping[str, Profile],
    gain: float,
    white_balance_k: float,
) -> Row:
    told = _told(asked, was, new, profiles)
    [full] = describe_lights(new, profiles, [told.model_copy(update={"level": 1.0})], white_balance_k)
    needed = was.light / max(gain * full.light, 1e-12)
    level = float(level_of(min(needed, 1.0), law_of(profiles[new.profile])))
    now = told.model_copy(update={"level": float(f"{level:.4g}")})
    [gives] = describe_lights(new, profiles, [now], white_balance_k)
    return Row(
        cue=cue,
        asked=asked,
        old=was,
        now=now,
        new=gives,
        off_by=_distance(_asked_uv(asked, was), xy_to_uv76(gives.xy)),
        apart=_distance(xy_to_uv76(was.xy), xy_to_uv76(gives.xy)),
        stops_lost=max(0.0, math.log2(needed)) if needed > 0.0 else 0.0,
    )


def _told(asked: Light, was: FixtureReport, new: Fixture, profiles: Mapping[str, Profile]) -> Light:
    """The light in the new show, its level apart."""
    _, mode = looked_up(new, profiles)
    if asked.white is not None or asked.xy is not None or not (mode.emitters or mode.cct):
        return asked
    if was.white is not None:
        white = White(cct_k=round(was.white.cct_k, 1), duv=round(was.white.duv, 5))
        return asked.model_copy(update={"white": white})
    return asked.model_copy(update={"xy": was.xy})


def _asked_uv(asked: Light, was: FixtureReport) -> FloatArray:
    if asked.white is not None:
        return white_to_uv76_fast(1e6 / asked.white.cct_k, asked.white.duv)
    return xy_to_uv76(was.xy if asked.xy is None else asked.xy)


def _distance(one: FloatArray, other: FloatArray) -> float:
    return float(np.hypot(*(one - other)))


# ── How much light ──────────────────────────────────────────────────────────────────────────────────


def _gain(
    show: Show,
    profiles: Mapping[str, Profile],
    old: Fixture,
    new: Fixture,
    brighter_stops: float | None,
) -> float:
    """How much light a share of the new lamp's most is, against the same share of the old one's."""
    if brighter_stops is None:
        return _flux(new, profiles) / _flux(old, profiles)
    full = [Light(level=1.0, white=White(cct_k=show.camera.white_balance_k))]
    [was], [gives] = (
        describe_lights(lamp.model_copy(update={"even": False}), profiles, full) for lamp in (old, new)
    )
    return float(2.0**brighter_stops * was.light / gives.light)


def _flux(fixture: Fixture, profiles: Mapping[str, Profile]) -> float:
    """Luminous flux of all emitters that a fixture drives, full on, in its profile's unit."""
    profile, mode = looked_up(fixture, profiles)
    return float(sum(profile.emitters[name].flux for name in mode.emitters or tuple(profile.emitters)))
