"""Forecast: what a light meter would read at a face, lamp by lamp and together.

A reading is the illuminance of a flat receptor at the place of the face. *Facing the camera* it is what
exposes the face towards the lens; *facing a lamp* it is that lamp's own light, read with the others off, as
the key is metered. Both hold the lamp's straight light and what comes of it by way of the room. Key : fill
compares the key lamps, facing the key, with the lamps of the roles fill and ambience, facing the camera.
Lit : shadow compares the two cheeks, 45° to either side of where the face looks, with every lamp on. Meters
and habits differ; these are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.language.places import say_length
from onecrew.plan.assumed import HEAD_M
from onecrew.plan.exposure import exposure_of
from onecrew.plan.lamp import Lamp
from onecrew.plan.stage import SMALLEST_M, Stage, Subject
from onecrew.plan.vectors import aim_of, unit
from onecrew.show.photometry import Units
from onecrew.show.show import Camera

Spot = Sequence[float | None]
"""x, y and height in metres; a height of None is that of a face."""

STEP_M = 0.7
"""One step of a person. Common practice, no source."""
CHEEK_DEG = 45.0
FILLS = ("fill", "ambience")
BESIDE_M = 0.3
"""A line that passes this near to something of unknown size may be blocked by it."""
DARK_LUX = 1e-6


@dataclass(frozen=True, slots=True)
class LampReading:
    """One lamp at the face; lux are None where its photometry is missing and no meter has read it."""

    id: str
    role: str
    output: float
    known: bool
    camera_lux: float
    """Facing the camera; of this ``camera_bounced_lux`` comes by way of the room."""
    camera_bounced_lux: float
    lamp_lux: float
    """Facing the lamp; of this ``lamp_bounced_lux`` comes by way of the room."""
    lamp_bounced_lux: float
    full_lux: float
    """Facing the lamp, at full output in the same colour."""
    share: float
    """Of all light facing the camera, 0–1."""
    to_key: float | None
    """Stops against the key, both facing the camera's way of reading them: each faced by the meter."""
    distance_m: float
    blocked: str
    """'may be blocked by counter', or empty."""


@dataclass(frozen=True, slots=True)
class Step:
    """How the key changes when the subject moves."""

    way: str
    metres: float
    stops: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """Readings at one place. Every figure in lux is without meaning where ``absolute`` is False."""

    subject: str
    at: tuple[float, float, float]
    facing_deg: float
    absolute: bool
    nominal_lux: float
    """What the camera notes call for."""
    camera_lux: float
    """All lamps, facing the camera."""
    camera_stops: float
    key: tuple[str, ...]
    """The lamps that count as key: those of that role that are lit, or the strongest."""
    key_lux: float
    key_stops: float
    fill: tuple[str, ...]
    fill_lux: float
    ratio: float | None
    """Key : fill; None without a fill lamp."""
    contrast: float | None
    """Lit : shadow side of the face."""
    steps: tuple[Step, ...]
    lamps: tuple[LampReading, ...]
    assumed: tuple[str, ...]
    doubts: tuple[str, ...]
    missing: tuple[str, ...]
    """Lamps that are lit and whose light is a guess."""
    units: Units
    """What lengths are said in; the figures are metres."""


def forecast(
    stage: Stage,
    camera: Camera,
    at: Spot | None = None,
    to: Spot | None = None,
    subject: Subject | None = None,
) -> Forecast:
    """The readings at a subject, the first where none is named, or at ``at`` (x, y, z in metres; z None is a
    face's height).

    ``to`` is where the subject goes: one more step.
    """
    assumed, doubts = list(stage.assumed), list(stage.doubts)
    if subject is None and stage.subjects:
        subject = stage.subjects[0]
    name, place, facing = _receiver(stage, subject, at, assumed, doubts)
    doubts += [
        f"{lamp.fixture.id} has no place on the plan and is left out"
        for lamp in stage.lamps
        if lamp.output > 0.0 and lamp.fixture.id not in stage.sources
    ]
    read = _read(stage, place, facing)
    lit, output = read.lamps, read.output
    total = output @ read.light
    key = _key(lit, output * np.diagonal(read.light[:, 3:]), assumed)
    fill = [i for i, lamp in enumerate(lit) if lamp.fixture.role in FILLS and output[i] > 0]
    key_lux = _facing(read.light, output, key)
    fill_lux = float(sum(output[i] * read.light[i, 0] for i in fill))
    unknown = tuple(lamp.fixture.id for lamp in lit if lamp.output > 0.0 and not lamp.known)
    exposure = exposure_of(camera)
    return Forecast(
        subject=name,
        at=(float(place[0]), float(place[1]), float(place[2])),
        facing_deg=aim_of(facing)[0],
        absolute=not unknown,
        nominal_lux=exposure.lux,
        camera_lux=float(total[0]),
        camera_stops=exposure.stops(float(total[0])),
        key=tuple(lit[i].fixture.id for i in key),
        key_lux=key_lux,
        key_stops=exposure.stops(key_lux),
        fill=tuple(lit[i].fixture.id for i in fill),
        fill_lux=fill_lux,
        ratio=key_lux / fill_lux if fill_lux > DARK_LUX and key_lux > DARK_LUX else None,
        contrast=float(total[1:3].max() / total[1:3].min()) if total[1:3].min() > DARK_LUX else None,
        steps=tuple(_steps(stage, lit, key, place, facing, key_lux, to)),
        lamps=tuple(_readings(stage, read, place, float(total[0]), key_lux)),
        assumed=tuple(dict.fromkeys(assumed)),
        doubts=tuple(dict.fromkeys(doubts)),
        missing=unknown,
        units=stage.units,
    )


@dataclass(frozen=True, slots=True)
class _Read:
    """What the lamps that stand on the plan give at one place.

    ``direct`` and ``bounced`` (lamps, 3 + lamps) are lux at full, facing the camera, each side of the face
    and each of the lamps.
    """

    lamps: list[Lamp]
    output: FloatArray
    direct: FloatArray
    bounced: FloatArray

    @property
    def light(self) -> FloatArray:
        return self.direct + self.bounced


def _read(stage: Stage, place: FloatArray, facing: FloatArray) -> _Read:
    lamps = [lamp for lamp in stage.lamps if lamp.fixture.id in stage.sources]
    names = [lamp.fixture.id for lamp in lamps]
    toward_camera = unit(stage.camera_at - place) if stage.camera_at is not None else facing
    toward = [unit(stage.sources[name].at - place) for name in names]
    direct, bounced = _light(stage, names, place, [toward_camera, *_cheeks(facing), *toward])
    return _Read(lamps, np.array([lamp.output for lamp in lamps]), direct, bounced)


def _readings(
    stage: Stage, read: _Read, place: FloatArray, camera_lux: float, key_lux: float
) -> Iterator[LampReading]:
    for i, lamp in enumerate(read.lamps):
        direct, bounced = (light[i, [0, 3 + i]] for light in (read.direct, read.bounced))
        yield _reading(stage, lamp, place, direct, bounced, camera_lux, key_lux)


def _reading(
    stage: Stage,
    lamp: Lamp,
    place: FloatArray,
    direct: FloatArray,
    bounced: FloatArray,
    camera_lux: float,
    key_lux: float,
) -> LampReading:
    """One lamp: ``direct`` and ``bounced`` (2,) are its lux at full, facing the camera and facing it."""
    camera, facing = lamp.output * (direct + bounced)
    return LampReading(
        id=lamp.fixture.id,
        role=lamp.fixture.role,
        output=float(lamp.output),
        known=lamp.known,
        camera_lux=float(camera),
        camera_bounced_lux=float(lamp.output * bounced[0]),
        lamp_lux=float(facing),
        lamp_bounced_lux=float(lamp.output * bounced[1]),
        full_lux=float(direct[1] + bounced[1]),
        share=float(camera / camera_lux) if camera_lux > 0.0 else 0.0,
        to_key=_stops_apart(float(facing), key_lux),
        distance_m=float(np.linalg.norm(stage.sources[lamp.fixture.id].at - place)),
        blocked=_blocked(stage, lamp.fixture.id, place),
    )


def forecasts(stage: Stage, camera: Camera) -> tuple[Forecast, ...]:
    """The readings at every subject on the plan, in their order; where there is none, at the middle.

    What is assumed or doubted of the room is said with the first alone.
    """
    first, *others = (forecast(stage, camera, subject=subject) for subject in stage.subjects or (None,))
    said = {*first.assumed, *first.doubts}
    return first, *(
        replace(
            each,
            assumed=tuple(one for one in each.assumed if one not in said),
            doubts=tuple(one for one in each.doubts if one not in said),
        )
        for each in others
    )


# ── Where, and which way ────────────────────────────────────────────────────────────────────────────


def _receiver(
    stage: Stage, subject: Subject | None, at: Spot | None, assumed: list[str], doubts: list[str]
) -> tuple[str, FloatArray, FloatArray]:
    """(name, place, facing) of what is read."""
    size = stage.enclosure.size
    if at is not None:
        x, y, z = at
        if z is None:
            assumed.append(f"the place is {say_length(HEAD_M, stage.units, 1)} high")
        place, name = np.array([x, y, HEAD_M if z is None else z], dtype=np.float64), "the place"
    elif subject is not None:
        place, name = subject.at, subject.name
    else:
        place, name = np.array([size[0] / 2, size[1] / 2, min(HEAD_M, size[2] / 2)]), "the middle of the room"
        assumed.append("no set piece of the kind subject is on the plan: the middle of the room is read")
    inside = np.clip(place, SMALLEST_M / 2, np.maximum(size - SMALLEST_M / 2, SMALLEST_M / 2))
    if float(np.abs(inside - place).max()) > SMALLEST_M:
        doubts.append(
            f"{name} is outside the room: it is read at the wall; move it, or say how large the room is"
        )
    for block in stage.enclosure.blocks:
        if bool((np.abs(block.axes @ (inside - block.middle)) < block.half).all()):
            doubts.append(f"{name} is inside {block.name}, which hides all light; move one of the two")
    if subject is not None:
        facing = subject.facing
    elif stage.camera_at is not None and (stage.camera_at[:2] != inside[:2]).any():
        facing = unit((stage.camera_at - inside) * [1, 1, 0])
    else:
        facing = np.array([0.0, -1.0, 0.0])
    return name, np.asarray(inside, dtype=np.float64), facing


def _cheeks(facing: FloatArray) -> list[FloatArray]:
    turn = math.radians(CHEEK_DEG)
    found = []
    for way in (turn, -turn):
        x = math.cos(way) * facing[0] - math.sin(way) * facing[1]
        y = math.sin(way) * facing[0] + math.cos(way) * facing[1]
        found.append(np.array([x, y, facing[2]]))
    return found


def _light(
    stage: Stage, names: Sequence[str], place: FloatArray, normals: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """(direct, bounced) at full, lux, (lamps, normals) each."""
    there = np.repeat(place[None, :], len(normals), axis=0)
    facing = np.stack(list(normals))
    direct = np.zeros((len(names), len(normals)))
    for i, name in enumerate(names):
        direct[i] = stage.direct(name, there, facing)
    return direct, stage.bounced(names, there, facing)


# ── Key and fill ────────────────────────────────────────────────────────────────────────────────────


def _key(lit: Sequence[Lamp], now: FloatArray, assumed: list[str]) -> list[int]:
    """The rows of the lamps that count as key."""
    key = [i for i, lamp in enumerate(lit) if lamp.fixture.role == "key" and now[i] > 0.0]
    if not key and len(now) and now.max() > 0.0:
        key = [int(now.argmax())]
        assumed.append(f"no key is lit: {lit[key[0]].fixture.id}, the strongest lamp, counts as key")
    return key


def _facing(light: FloatArray, output: FloatArray, key: Sequence[int]) -> float:
    """Light of the key lamps, lux, facing the one that gives most."""
    if not key:
        return 0.0
    return float(max(sum(output[i] * light[i, 3 + faced] for i in key) for faced in key))


def _steps(
    stage: Stage,
    lit: Sequence[Lamp],
    key: Sequence[int],
    place: FloatArray,
    facing: FloatArray,
    key_lux: float,
    to: Spot | None,
) -> list[Step]:
    """What the key does when the subject moves a step; none where that leads out of the room."""
    if key_lux <= DARK_LUX:
        return []
    flat = unit(facing * [1, 1, 0])
    right = np.array([flat[1], -flat[0], 0.0])
    ways = [("back", -flat), ("forward", flat), ("to its right", right), ("to its left", -right)]
    goals = [(f"one step {word}", place + STEP_M * way) for word, way in ways]
    if to is not None:
        x, y, z = to
        assert x is not None and y is not None
        goals.append(
            (
                f"to {say_length(x, stage.units)}, {say_length(y, stage.units)}",
                np.array([x, y, place[2] if z is None else z], dtype=np.float64),
            )
        )
    size, found = stage.enclosure.size, []
    for way, there in goals:
        if (there < 0.05).any() or (there > size - 0.05).any():
            continue
        lux = key_light_at(stage, [lit[i] for i in key], there)
        found.append(Step(way, float(np.linalg.norm(there - place)), math.log2(max(lux, DARK_LUX) / key_lux)))
    return found


def key_light_at(stage: Stage, key: Sequence[Lamp], place: FloatArray) -> float:
    """Light of the key lamps at a place, lux, facing the one that gives most."""
    names = [lamp.fixture.id for lamp in key]
    output = np.array([lamp.output for lamp in key])
    direct, bounced = _light(stage, names, place, [unit(stage.sources[name].at - place) for name in names])
    return float((output @ (direct + bounced)).max())


def cheek_light(stage: Stage, lamp: Lamp, found: Forecast) -> FloatArray:
    """(2,): one lamp's light as it is now on the two cheeks of the face that was read, lux."""
    turn = math.radians(found.facing_deg)
    cheeks = _cheeks(np.array([math.sin(turn), math.cos(turn), 0.0]))
    direct, bounced = _light(stage, [lamp.fixture.id], np.array(found.at), cheeks)
    return np.asarray(lamp.output * (direct + bounced)[0])


def _stops_apart(lux: float, key_lux: float) -> float | None:
    return math.log2(lux / key_lux) if lux > DARK_LUX and key_lux > DARK_LUX else None


def _blocked(stage: Stage, name: str, place: FloatArray) -> str:
    """Whether something stands between a lamp and the place, in words."""
    source = stage.sources[name]
    seen = stage.seen_share(name, place)
    if seen < 0.995:
        points, _ = source.points(5)
        culprits = [block.name for block in stage.enclosure.blocks if bool(block.hides(place, points).any())]
        hidden = f"{100 * (1 - seen):.0f} % of it" if seen > 0.005 else "it"
        return f"{' and '.join(dict.fromkeys(culprits))} may block {hidden}"
    way = (source.at - place)[:2]
    length = float(np.linalg.norm(way))
    for piece, stands in stage.pieces.unsized:
        if length < 1e-6:
            break
        apart = np.array([stands.x_m, stands.y_m]) - place[:2]
        along = float(apart @ way) / length**2
        aside = abs(float(apart[0] * way[1] - apart[1] * way[0])) / length
        line_m = place[2] + along * (source.at[2] - place[2])
        top = stands.height_m if stands.height_m is not None else HEAD_M
        if 0.0 < along < 1.0 and aside < BESIDE_M and line_m < top:
            return f"may be blocked by {piece.id}"
    return ""
