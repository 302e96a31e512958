"""Inverse: from the reading wanted to levels, and from the falloff wanted to a distance."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.plan.forecast import DARK_LUX, STEP_M, Forecast, Spot, cheek_light, key_light_at
from onecrew.plan.lamp import Lamp
from onecrew.plan.stage import Stage
from onecrew.plan.vectors import unit
from onecrew.plan.wants import Wants
from onecrew.playback.laws import law_of, level_of
from onecrew.playback.measured import measured_profile
from onecrew.show.profile import Profile

NEAREST_M = 0.3
"""No lamp is put nearer to a face than this."""
HALVINGS = 14


@dataclass(frozen=True, slots=True)
class Setting:
    """What one lamp would be set to."""

    id: str
    output: float
    level: float
    stops_left: float
    """Stops from there to its full light; below 0 by how much it is short, and then it stands at full."""


@dataclass(frozen=True, slots=True)
class NewPlace:
    """Where the key would stand."""

    id: str
    x_m: float
    y_m: float
    height_m: float
    distance_m: float
    fall: float
    """Stops lost across the move there."""
    reached: bool
    stops: float
    """What the key's reading changes by, at the level it has."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What would give the reading that is wanted."""

    settings: tuple[Setting, ...]
    place: NewPlace | None
    remarks: tuple[str, ...]


def answer(
    stage: Stage, found: Forecast, wants: Wants, profiles: Mapping[str, Profile], to: Spot | None = None
) -> Answer:
    """The levels and the place for what is wanted; what cannot be reached is said in a remark."""
    remarks: list[str] = []
    settings: list[Setting] = []
    by_id = {lamp.fixture.id: lamp for lamp in stage.lamps}
    unknown = [name for name in (*found.key, *found.fill) if not by_id[name].known]
    if unknown:
        remarks.append(f"{', '.join(unknown)}: photometry is missing, so these levels are a guess")
    key_scale = 1.0
    if wants.key_lux is not None:
        if found.key_lux <= DARK_LUX:
            remarks.append(
                "no key gives light here: bring a lamp of the role key up in the cue, then ask again"
            )
        else:
            keys = [by_id[name] for name in found.key]
            settings += _set(keys, wants.key_lux / found.key_lux, profiles, remarks, "open up")
            # The fill goes by the key that is reached, not by one that is out of reach.
            lux = {lamp.id: lamp.lamp_lux for lamp in found.lamps}
            reached = [
                lux[lamp.fixture.id] * one.output / lamp.output
                for lamp, one in zip(keys, settings, strict=True)
            ]
            key_scale = sum(reached) / sum(lux[lamp.fixture.id] for lamp in keys)
    if wants.ratio is not None or wants.contrast is not None:
        settings += _fill(stage, found, wants, key_scale, by_id, profiles, remarks)
    place = None
    if wants.fall is not None:
        place = _further(stage, found, wants, by_id, remarks, to)
    return Answer(tuple(settings), place, tuple(remarks))


def _set(
    lamps: Sequence[Lamp],
    scale: float,
    profiles: Mapping[str, Profile],
    remarks: list[str],
    otherwise: str,
) -> list[Setting]:
    """The lamps with their light scaled, each no further than to its full; else move it, or ``otherwise``."""
    found = []
    for lamp in lamps:
        name, wanted = lamp.fixture.id, lamp.output * scale
        left = -math.log2(wanted)
        if left < -0.05:
            remarks.append(f"{name} is {-left:.1f} stops short at full: move it nearer, or {otherwise}")
        output = min(wanted, 1.0)
        profile = profiles.get(lamp.fixture.profile)
        law = "linear" if profile is None else law_of(measured_profile(lamp.fixture, profile))
        level = float(level_of(np.array([output]), law)[0])
        found.append(Setting(name, output, level, left))
    return found


def _fill(
    stage: Stage,
    found: Forecast,
    wants: Wants,
    key_scale: float,
    by_id: Mapping[str, Lamp],
    profiles: Mapping[str, Profile],
    remarks: list[str],
) -> list[Setting]:
    if not found.fill or found.fill_lux <= DARK_LUX:
        remarks.append("no lamp of the role fill or ambience gives light here: bring one up, then ask again")
        return []
    if wants.ratio is not None:
        scale = found.key_lux * key_scale / wants.ratio / found.fill_lux
        return _set([by_id[name] for name in found.fill], scale, profiles, remarks, "take less key")
    assert wants.contrast is not None
    # Light adds: each cheek gets rest + scale × fill, and their quotient is to be the contrast.
    cheeks = {
        name: cheek_light(stage, by_id[name], found) for name in stage.sources if by_id[name].output > 0.0
    }
    nothing = np.zeros(2)
    fill = sum((cheeks[name] for name in found.fill if name in cheeks), nothing)
    rest = sum(
        (
            light * (key_scale if name in found.key else 1.0)
            for name, light in cheeks.items()
            if name not in found.fill
        ),
        nothing,
    )
    lit = int(np.argmax(rest))
    shadow = 1 - lit
    below = wants.contrast * fill[shadow] - fill[lit]
    scale = float((rest[lit] - wants.contrast * rest[shadow]) / below) if below > 0.0 else -1.0
    if scale <= 0.0:
        alone = rest[lit] / rest[shadow] if rest[shadow] > DARK_LUX else math.inf
        remarks.append(
            f"with no fill at all the face has {alone:.1f} : 1, so this contrast is not one that fill gives: "
            "it takes black cloth on the shadow side, darker walls, or another place for the fill"
        )
        return []
    return _set([by_id[name] for name in found.fill], scale, profiles, remarks, "take less key")


def _moved(found: Forecast, wants: Wants, to: Spot | None) -> FloatArray:
    """Where the face goes: to the place that is said, else backwards."""
    face = np.array(found.at)
    if to is not None and to[0] is not None and to[1] is not None:
        return np.array([to[0], to[1], face[2] if to[2] is None else to[2]])
    turn = math.radians(found.facing_deg)
    return face - np.array([math.sin(turn), math.cos(turn), 0.0]) * (wants.across_m or STEP_M)


def _halved(falls: Callable[[float], float], wanted: float, near: float, far: float) -> float:
    """The distance at which what ``falls`` with it comes to ``wanted``, by halving."""
    for _ in range(HALVINGS):
        distance = (near + far) / 2.0
        near, far = (distance, far) if falls(distance) > wanted else (near, distance)
    return distance


def _further(
    stage: Stage,
    found: Forecast,
    wants: Wants,
    by_id: Mapping[str, Lamp],
    remarks: list[str],
    to: Spot | None,
) -> NewPlace | None:
    """The distance at which the key, moved along its line to the face, falls off as wanted."""
    if len(found.key) != 1:
        remarks.append(
            "the place is worked out for one key lamp; here it is " + (", ".join(found.key) or "none")
        )
        return None
    assert wants.fall is not None
    lamp, face = by_id[found.key[0]], np.array(found.at)
    name = lamp.fixture.id
    start = stage.sources[name]
    away = unit(start.at - face)
    there = _moved(found, wants, to)
    size = stage.enclosure.size
    if (there < 0.0).any() or (there > size).any():
        remarks.append("the move leads out of the room; say another with --to X,Y, or a shorter one")
        return None

    def read(distance: float) -> tuple[float, float]:
        """(stops lost across the move, lux at the face) with the lamp this far away."""
        stage.sources[name] = replace(start, at=face + distance * away)
        here, then = (key_light_at(stage, [lamp], spot) for spot in (face, there))
        return math.log2(max(here, DARK_LUX) / max(then, DARK_LUX)), here

    with np.errstate(divide="ignore"):
        to_wall = np.where(away > 0, (size - 0.05 - face) / away, (0.05 - face) / away)
    near, far = NEAREST_M, float(min(np.min(to_wall[np.isfinite(to_wall)]), 20.0))
    try:
        now = read(float(np.linalg.norm(start.at - face)))[1]
        if far <= near or read(far)[0] > wants.fall:
            distance, reached = far, False
        elif read(near)[0] < wants.fall:
            distance, reached = near, False
        else:
            distance, reached = _halved(lambda at: read(at)[0], wants.fall, near, far), True
        fall, lux = read(distance)
    finally:
        stage.sources[name] = start
    if not reached:
        edge = "at the wall" if distance == far else f"as near as {NEAREST_M:g} m"
        remarks.append(f"{edge} the key still falls by {fall:.1f} stops across the move")
    x, y, z = (float(each) for each in face + distance * away)
    change = math.log2(max(lux, DARK_LUX) / max(now, DARK_LUX))
    return NewPlace(name, x, y, z, distance, fall, reached, change)
