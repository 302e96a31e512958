"""Stage: the documents' room, lamps, set pieces and camera as one space with sources of light in it.

What the documents leave out is assumed and named in ``assumed``; what makes no sense is fixed and named in
``doubts``. Neither ever stops a forecast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.language.places import say_length
from onecrew.language.saying import minus
from onecrew.plan.assumed import HEAD_M, LAMP_M, LENS_M, is_subject, size_of, tilt_toward
from onecrew.plan.beam import Beam
from onecrew.plan.blocking import clear
from onecrew.plan.enclosure import Enclosure, Surface, box_room
from onecrew.plan.lamp import Lamp
from onecrew.plan.pieces import Pieces
from onecrew.plan.source import Source, illuminance
from onecrew.plan.vectors import aim_of, direction, unit
from onecrew.show.photometry import Photometry, Room, Units, reflectance_of
from onecrew.show.show import Camera, Fixture, Place, SetPiece

WALLS, CEILING, FLOOR = "mid", "white", "dark"
BRIGHTEST = 0.98
"""The most that a surface is counted to send back: above it light would go round without end."""
SMALLEST_M = 0.1
"""What is nearer to a lamp than this is read as this far away."""
IN_WALL_M, WALL_M = 0.02, 0.1
"""A lamp is kept this far off a wall; beyond it, up to the thickness of a wall, it stands in the wall."""


@dataclass(frozen=True, slots=True)
class Subject:
    """Who or what is lit: where, and which way it faces (unit vector)."""

    name: str
    at: FloatArray
    facing: FloatArray


@dataclass(slots=True)
class Stage:
    """A room ready to be asked for light."""

    enclosure: Enclosure
    pieces: Pieces
    lamps: tuple[Lamp, ...]
    sources: dict[str, Source]
    """By fixture id, at full output in its present colour; a lamp without a place has none."""
    subjects: tuple[Subject, ...]
    camera_at: FloatArray | None
    units: Units = "metres"
    """What lengths are said in."""
    assumed: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    def sent(self, name: str) -> FloatArray:
        """What the fine points of the room send on by way of one lamp at full, (m,)."""
        source = self.sources[name]
        return self.enclosure.sent_for(source, self.lighting(source))

    def direct(self, name: str, places: FloatArray, normals: FloatArray) -> FloatArray:
        """Direct light of one lamp at full, lux, (k,)."""
        source = self.sources[name]
        return illuminance(source, places, normals, self.lighting(source).blocks)

    def bounced(self, names: Sequence[str], places: FloatArray, normals: FloatArray) -> FloatArray:
        """Light by way of the room's surfaces, lux, for each lamp at full and each place: (lamps, k)."""
        view = self.enclosure.view(places, normals)
        if not names:
            return np.zeros((0, len(places)))
        return np.stack([view @ self.sent(name) for name in names])

    def seen_share(self, name: str, place: FloatArray) -> float:
        """The share of a lamp's face that nothing hides from a place."""
        source = self.sources[name]
        points, shares = source.points(5)
        return float(shares @ clear(place, points, self.lighting(source).blocks))

    def lighting(self, source: Source) -> Enclosure:
        """The room for one source: a thing that holds the source does not hide it."""
        holding = [
            block
            for block in self.enclosure.blocks
            if bool((np.abs(block.axes @ (source.at - block.middle)) < block.half).all())
        ]
        if not holding:
            return self.enclosure
        free = Enclosure.__new__(Enclosure)
        free.__dict__.update(self.enclosure.__dict__)
        free.blocks = tuple(block for block in self.enclosure.blocks if block not in holding)
        return free


def stage_of(
    lamps: Sequence[Lamp],
    set_pieces: Sequence[SetPiece],
    camera: Camera,
    room: Room = Room(),  # noqa: B008
) -> Stage:
    """The stage for lamps, set pieces, camera and room of one setup."""
    assumed: list[str] = []
    doubts: list[str] = []
    people = [piece for piece in set_pieces if is_subject(piece) and piece.place is not None]
    places = [lamp.fixture.place for lamp in lamps] + [piece.place for piece in set_pieces] + [camera.place]
    size = _size(room, [place for place in places if place is not None], assumed)
    key = _first_of(lamps, "key")
    camera_at = None
    if camera.place is not None:
        camera_at = _point(camera.place, LENS_M, "the lens", assumed, room.units)
    subjects = tuple(_subject(piece, camera_at, key, assumed, room.units) for piece in people)
    first = people[0].place if people else None
    pieces, enclosure = _enclosure(size, _reflectances(room, assumed), tuple(set_pieces), first)
    if not bool((size > 0.4).all()):
        doubts.append("the room is under half a metre along one side: check its size")
    stage = Stage(enclosure, pieces, tuple(lamps), {}, subjects, camera_at, room.units, assumed, doubts)
    assumed += pieces.assumed
    for lamp in lamps:
        if lamp.fixture.place is not None:
            stage.sources[lamp.fixture.id] = source_of(lamp, stage)
    return stage


# ── The room ────────────────────────────────────────────────────────────────────────────────────────


def _size(room: Room, places: Sequence[Place], assumed: list[str]) -> FloatArray:
    """(3,) the same, and said where it is assumed."""
    size = size_of(room, places)
    if None in (room.width_m, room.depth_m, room.height_m):
        assumed.append(f"the room is {' × '.join(say_length(each, room.units, 1) for each in size)}")
    return np.array(size)


def _reflectances(room: Room, assumed: list[str]) -> tuple[float, ...]:
    """In the order of ``SIDES``."""
    names = {"walls": (room.walls, WALLS), "ceiling": (room.ceiling, CEILING), "floor": (room.floor, FLOOR)}
    every_wall = None not in (room.left, room.right, room.bottom, room.top)
    missing = [
        name for name, (told, _) in names.items() if told is None and not (name == "walls" and every_wall)
    ]
    if missing:
        said = ", ".join(
            f"{name} {names[name][1]} ({100 * reflectance_of(names[name][1]):g} %)" for name in missing
        )
        assumed.append(f"how much the room's surfaces reflect: {said}")
    walls, ceiling, floor = (otherwise if told is None else told for told, otherwise in names.values())
    sides = [walls if told is None else told for told in (room.left, room.right, room.bottom, room.top)]
    return tuple(min(reflectance_of(each), BRIGHTEST) for each in (*sides, floor, ceiling))


def _enclosure(
    size: FloatArray, reflectances: tuple[float, ...], set_pieces: tuple[SetPiece, ...], toward: Place | None
) -> tuple[Pieces, Enclosure]:
    shaping = tuple(piece for piece in set_pieces if not is_subject(piece))
    return _cached(tuple(float(each) for each in size), reflectances, shaping, toward)


@lru_cache(maxsize=8)
def _cached(
    size: tuple[float, ...],
    reflectances: tuple[float, ...],
    set_pieces: tuple[SetPiece, ...],
    toward: Place | None,
) -> tuple[Pieces, Enclosure]:
    """Kept, because the factors of a room take up to a second and a moved lamp leaves them as they are."""
    pieces = Pieces(set_pieces, toward, np.array(size))
    walls: tuple[Surface, ...] = box_room(size[0], size[1], size[2], reflectances)
    return pieces, Enclosure(walls, pieces.surfaces, pieces.blocks)


# ── Who is lit ──────────────────────────────────────────────────────────────────────────────────────


def _point(place: Place, otherwise_m: float, what: str, assumed: list[str], units: Units) -> FloatArray:
    if place.height_m is None:
        assumed.append(f"{what} is {say_length(otherwise_m, units, 1)} high")
    return np.array([place.x_m, place.y_m, otherwise_m if place.height_m is None else place.height_m])


def _subject(
    piece: SetPiece, camera_at: FloatArray | None, key: Lamp | None, assumed: list[str], units: Units
) -> Subject:
    assert piece.place is not None
    at = _point(piece.place, HEAD_M, f"the face of {piece.id}", assumed, units)
    if piece.place.aim_deg is not None:
        return Subject(piece.id, at, direction(piece.place.aim_deg, piece.place.tilt_deg or 0.0))
    if camera_at is not None:
        assumed.append(f"{piece.id} faces the camera")
        return Subject(piece.id, at, unit((camera_at - at) * [1, 1, 0]))
    place = key.fixture.place if key is not None else None
    if place is not None:
        assumed.append(f"{piece.id} faces the key: the camera has no place")
        return Subject(piece.id, at, unit([place.x_m - at[0], place.y_m - at[1], 0.0]))
    assumed.append(f"{piece.id} faces down the plan: the camera has no place")
    return Subject(piece.id, at, np.array([0.0, -1.0, 0.0]))


def _first_of(lamps: Sequence[Lamp], role: str) -> Lamp | None:
    return next(
        (lamp for lamp in lamps if lamp.fixture.role == role and lamp.fixture.place is not None), None
    )


# ── One lamp ────────────────────────────────────────────────────────────────────────────────────────


def source_of(lamp: Lamp, stage: Stage) -> Source:
    """The source that a lamp with its modifiers is, at full output in its present colour."""
    fixture, gives = lamp.fixture, lamp.gives
    at = _place_of(fixture, stage)
    toward = stage.subjects[0].at if stage.subjects else None
    aim, tilt = _aim(fixture, at, toward, gives, stage.assumed)
    beam = Beam(gives.beam_deg, gives.field_deg)
    assert fixture.place is not None
    source = Source(at, aim, tilt, gives.width_m, gives.height_m, beam, 1.0, fixture.place.roll_deg or 0.0)
    return modified(source.of_candela(candela_of(gives, source)), fixture, toward)


def modified(source: Source, fixture: Fixture, toward: FloatArray | None) -> Source:
    """The source with the fixture's modifiers before it, one after the other."""
    at, aim, tilt = source.at, source.aim_deg, source.tilt_deg
    for modifier in fixture.modifiers:
        left = 2.0**-modifier.stops
        if modifier.width_m is not None and modifier.height_m is not None:
            faces = (aim, tilt)
            middle = at + direction(aim, tilt) * modifier.distance_m
            if modifier.kind == "reflector" and toward is not None:
                faces = aim_of(toward - middle)
            face = Beam()
            source = Source(
                middle, *faces, modifier.width_m, modifier.height_m, face,
                source.lumens * left / face.lumens_per_cd, source.roll_deg,
            )  # fmt: skip
            continue
        narrower = source.beam
        if modifier.beam_deg is not None and modifier.beam_deg < source.beam.beam_deg:
            narrower = Beam(modifier.beam_deg)
        source = replace(source, beam=narrower, candela=source.candela * left)
    return source


def candela_of(gives: Photometry, source: Source) -> float:
    """Intensity on the axis for the figure that a profile states, cd."""
    if gives.candela is not None:
        return gives.candela
    if gives.lumens is not None:
        return gives.lumens / source.beam.lumens_per_cd
    assert gives.lux_at_1m is not None
    meter = (source.at + source.ahead)[None, :]
    return gives.lux_at_1m / float(illuminance(source.of_candela(1.0), meter, -source.ahead[None, :])[0])


def _place_of(fixture: Fixture, stage: Stage) -> FloatArray:
    assert fixture.place is not None
    at = _point(fixture.place, LAMP_M, fixture.id, stage.assumed, stage.units)
    size = stage.enclosure.size
    inside = np.clip(at, IN_WALL_M, np.maximum(size - IN_WALL_M, IN_WALL_M))
    out = float(np.maximum(-at, at - size).max())
    if out > WALL_M:
        stage.doubts.append(
            f"{fixture.id} stands {say_length(out, stage.units, 1)} outside the room: it is counted as "
            "standing at the wall; move it, or say how large the room is"
        )
    elif out > -IN_WALL_M / 2:
        stage.doubts.append(f"{fixture.id} stands in a wall: it is counted as standing just before it")
    for block in stage.enclosure.blocks:
        if bool((np.abs(block.axes @ (inside - block.middle)) < block.half).all()):
            stage.doubts.append(f"{fixture.id} stands inside {block.name}, which is counted as not hiding it")
    for subject in stage.subjects:
        if float(np.linalg.norm(subject.at - inside)) < SMALLEST_M:
            stage.doubts.append(
                f"{fixture.id} stands on {subject.name}: it is read as "
                f"{say_length(SMALLEST_M, stage.units, 1)} away; move one of the two"
            )
            away = unit((inside - subject.at) if (inside != subject.at).any() else subject.facing)
            inside = subject.at + SMALLEST_M * away
    return np.asarray(inside, dtype=np.float64)


def _aim(
    fixture: Fixture, at: FloatArray, toward: FloatArray | None, gives: Photometry, assumed: list[str]
) -> tuple[float, float]:
    """(aim, tilt) of a lamp in degrees, as given or at the subject."""
    assert fixture.place is not None
    aim, tilt = fixture.place.aim_deg, fixture.place.tilt_deg
    there = aim_of(toward - at) if toward is not None else None
    if gives.beam_deg >= 180.0:
        return aim or 0.0, tilt or 0.0
    if aim is None and tilt is not None and abs(tilt) > 89.0:
        return 0.0, tilt
    if aim is None:
        aim = there[0] if there is not None else 0.0
        assumed.append(f"{fixture.id} aims {'at the subject' if there is not None else 'up the plan'}")
    if tilt is None:
        tilt = tilt_toward(list(at), aim, None if toward is None else list(toward))
        said = "at the height of the face" if tilt else "level"
        assumed.append(f"{fixture.id} is tilted {said} ({minus(f'{tilt:+.0f}')}°)")
    return aim, tilt
