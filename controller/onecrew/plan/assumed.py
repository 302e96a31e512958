"""What is assumed where the show says nothing: the room's size, heights, tilts. Pure; no numpy."""

from __future__ import annotations

import math
from collections.abc import Sequence

from onecrew.show.photometry import Room
from onecrew.show.show import Place, SetPiece

ROOM_M = 4.0
"""Width and depth of a room whose size is not given, where nothing stands outside it."""
CEILING_M = 2.5
HEAD_M, LAMP_M, LENS_M = 1.6, 2.0, 1.4
"""Heights that are taken where none are given: a face, a lamp, a lens."""
FLAT_HEIGHT_M = 1.4
"""The same for the middle of a flat thing."""
TOWARD_DEG = 60.0
"""A lamp whose plan angle leads past the subject by no more is taken to be tilted at it."""


def is_subject(piece: SetPiece) -> bool:
    """Whether it stands for somebody who is lit: its name or kind says subject."""
    return "subject" in f"{piece.kind} {piece.id}".lower()


def size_of(room: Room, places: Sequence[Place]) -> tuple[float, float, float]:
    """Width, depth and height in metres; what is not given holds everything that stands there."""
    given = (room.width_m, room.depth_m, room.height_m)
    least = (
        math.ceil(2 * max([ROOM_M, *(place.x_m for place in places)])) / 2,
        math.ceil(2 * max([ROOM_M, *(place.y_m for place in places)])) / 2,
        max([CEILING_M, *((place.height_m or 0.0) + 0.2 for place in places)]),
    )
    width, depth, height = (given[k] or least[k] for k in range(3))
    return width, depth, height


def tilt_toward(at: Sequence[float], aim_deg: float | None, toward: Sequence[float] | None) -> float:
    """The tilt of a lamp, degrees: at the face where it aims about that way or nowhere known, else level.

    ``at`` and ``toward`` are x, y and height of lamp and face.
    """
    if toward is None:
        return 0.0
    x, y, z = (float(there) - float(here) for here, there in zip(at, toward, strict=True))
    aim = math.degrees(math.atan2(x, y))
    past = 0.0 if aim_deg is None else abs((aim_deg - aim + 180.0) % 360.0 - 180.0)
    return math.degrees(math.atan2(z, math.hypot(x, y))) if past <= TOWARD_DEG else 0.0
