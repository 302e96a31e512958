"""Set pieces as what they do to light: who is lit, what is flat, what is furniture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.plan.assumed import FLAT_HEIGHT_M, is_subject
from onecrew.plan.blocking import Block
from onecrew.plan.enclosure import OFF_M, PIECE_CUTS, Surface
from onecrew.plan.vectors import across, direction
from onecrew.show.photometry import reflectance_of
from onecrew.show.show import Place, SetPiece

Sort = Literal["subject", "black", "white", "flat", "furniture"]

BLACK, WHITE = 0.04, 0.8
"""Reflectance of black cloth and of a white board where none is given. Common practice, no source."""
FLAT_M = 1.2
"""Width and height of a flat thing whose size is not given."""
_WORDS: Sequence[tuple[Sort, tuple[str, ...]]] = (
    ("subject", ("subject",)),
    ("black", ("negative", "neg fill", "black", "flag")),
    ("white", ("reflector", "bounce", "white board", "foam board")),
    ("flat", ("wall", "curtain", "window", "door", "blind", "screen")),
)


def sort_of(piece: SetPiece) -> Sort:
    """What a set piece is for the light, by the words of its kind, then of its name."""
    for text in (piece.kind.lower(), piece.id.replace("-", " ")):
        for sort, words in _WORDS:
            if any(word in text for word in words):
                return sort
    return "furniture"


class Pieces:
    """The set pieces of a room as surfaces and blocks, with what was assumed about them."""

    def __init__(self, pieces: Sequence[SetPiece], toward: Place | None, size: FloatArray) -> None:
        self.surfaces: list[Surface] = []
        self.blocks: list[Block] = []
        self.assumed: list[str] = []
        self.unsized: list[tuple[SetPiece, Place]] = []
        """Furniture whose size is not known: it may block."""
        for piece in pieces:
            if piece.place is None or is_subject(piece):
                continue
            sort = sort_of(piece)
            sized = piece.width_m is not None and (piece.height_m is not None or piece.depth_m is not None)
            if sort in ("black", "white"):
                self._flat(piece, piece.place, BLACK if sort == "black" else WHITE, toward, size)
            elif sort == "flat" and sized:
                self._flat(piece, piece.place, 0.4, toward, size)
            elif piece.width_m is not None and piece.depth_m is not None:
                self._box(piece, piece.place, size)
            else:
                self.unsized.append((piece, piece.place))

    def _reflectance(self, piece: SetPiece, otherwise: float) -> float:
        if piece.reflectance is not None:
            return reflectance_of(piece.reflectance)
        self.assumed.append(f"{piece.id} sends back {100 * otherwise:g} % of its light")
        return otherwise

    def _flat(
        self, piece: SetPiece, place: Place, otherwise: float, toward: Place | None, room: FloatArray
    ) -> None:
        width, height = piece.width_m or FLAT_M, piece.height_m or FLAT_M
        if piece.width_m is None or piece.height_m is None:
            self.assumed.append(f"{piece.id} is {width:g} × {height:g} m")
        up_m = place.height_m
        if up_m is None:
            up_m = max(FLAT_HEIGHT_M, height / 2)
            self.assumed.append(f"the middle of {piece.id} is {up_m:g} m high")
        aim = place.aim_deg
        if aim is None:
            aim = 0.0
            if toward is not None:
                aim = float(np.degrees(np.arctan2(toward.x_m - place.x_m, toward.y_m - place.y_m))) % 360.0
            self.assumed.append(f"{piece.id} faces {'the subject' if toward is not None else 'up the plan'}")
        tilt, roll = place.tilt_deg or 0.0, place.roll_deg or 0.0
        right, up = across(aim, tilt, roll)
        ahead = direction(aim, tilt)
        reach = np.abs(right) * width / 2 + np.abs(up) * height / 2
        middle = np.array([place.x_m, place.y_m, up_m])
        inside = self._inside(piece, middle, reach, room)
        if inside is None:
            return
        share = self._reflectance(piece, otherwise)
        corner = inside - right * width / 2 - up * height / 2
        for side in (ahead, -ahead):
            self.surfaces.append(
                Surface(piece.id, corner, right * width, up * height, side, share, PIECE_CUTS)
            )
        half = np.array([width / 2, height / 2, 0.0])
        self.blocks.append(Block(piece.id, inside, np.stack([right, up, ahead]), half))

    def _box(self, piece: SetPiece, place: Place, room: FloatArray) -> None:
        assert piece.width_m is not None and piece.depth_m is not None
        top = place.height_m
        if top is None:
            top = piece.height_m or 0.9
            self.assumed.append(f"the top of {piece.id} is {top:g} m high")
        tall = min(piece.height_m or top, top)
        if tall <= 0.0:
            return
        aim = place.aim_deg or 0.0
        right, _ = across(aim, 0.0)
        axes = np.stack([right, direction(aim), np.array([0.0, 0.0, 1.0])])
        half = np.array([piece.width_m, piece.depth_m, tall]) / 2
        reach = np.abs(axes.T) @ half
        middle = np.array([place.x_m, place.y_m, top - tall / 2])
        inside = self._inside(piece, middle, reach, room)
        if inside is None:
            return
        share = self._reflectance(piece, 0.4)
        self.blocks.append(Block(piece.id, inside, axes, half))
        for axis in range(3):
            u, v = (k for k in range(3) if k != axis)
            for sign in (-1.0, 1.0):
                face = inside + sign * half[axis] * axes[axis]
                on_floor = axis == 2 and sign < 0 and face[2] < 10 * OFF_M
                at_wall = bool((face + sign * axes[axis] * 0.02 < 0.0).any()) or bool(
                    (face + sign * axes[axis] * 0.02 > room).any()
                )
                if on_floor or at_wall:
                    continue
                corner = face - half[u] * axes[u] - half[v] * axes[v]
                sides = (2 * half[u] * axes[u], 2 * half[v] * axes[v])
                self.surfaces.append(Surface(piece.id, corner, *sides, sign * axes[axis], share, PIECE_CUTS))

    def _inside(
        self, piece: SetPiece, middle: FloatArray, reach: FloatArray, room: FloatArray
    ) -> FloatArray | None:
        """The middle moved so that the whole piece is in the room; None where it does not fit in."""
        slack = 3 * OFF_M
        low, high = reach + slack, room - reach - slack
        if (low > high).any():
            self.assumed.append(f"{piece.id} does not fit into the room and is left out")
            return None
        moved = np.clip(middle, low, high)
        if float(np.abs(moved - middle).max()) > 0.05:
            self.assumed.append(f"{piece.id} reaches out of the room and is counted as standing at the wall")
        return moved
