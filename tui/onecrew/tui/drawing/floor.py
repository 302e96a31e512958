"""The room from above with the light of each lamp as a pool."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import groupby

from rich.style import Style

from onecrew.plan.assumed import size_of
from onecrew.show.show import Place, Show
from onecrew.tui import theme
from onecrew.tui.drawing.canvas import Canvas

POOL_M = 1.15
"""Reach of a lamp's pool on the plan, metres, at full level."""


@dataclass(frozen=True, slots=True)
class Pool:
    """One lamp's light on the floor."""

    id: str
    level: float
    swatch: str
    place: Place | None


@dataclass(frozen=True, slots=True)
class Frame:
    """How metres become columns and rows: a column is half as wide as a row is high."""

    left_m: float
    top_m: float
    columns_per_m: float
    width: int
    height: int

    def at(self, x_m: float, y_m: float) -> tuple[int, int]:
        """(column, row) of a place."""
        return (
            round((x_m - self.left_m) * self.columns_per_m),
            round((self.top_m - y_m) * self.columns_per_m / 2),
        )

    def metres(self, column: float, row: float) -> tuple[float, float]:
        return self.left_m + column / self.columns_per_m, self.top_m - 2 * row / self.columns_per_m


def places(show: Show) -> list[Place]:
    """Everything that stands somewhere."""
    stand = [fixture.place for fixture in show.rig.fixtures]
    stand += [piece.place for piece in show.rig.set_pieces]
    return [place for place in (*stand, show.camera.place) if place is not None]


def frame_of(show: Show, width: int, height: int, margin_m: float = 0.5) -> Frame:
    """A frame that holds the room and what stands outside."""
    known = places(show)
    x0 = min([0.0, *(place.x_m - margin_m for place in known)])
    wide, deep, _ = size_of(show.room, known)
    x1 = max([wide, *(place.x_m + margin_m for place in known)])
    y0 = min([0.0, *(place.y_m - margin_m for place in known)])
    y1 = max([deep, *(place.y_m + margin_m for place in known)])
    scale = max(min((width - 1) / (x1 - x0), 2 * (height - 1) / (y1 - y0)), 0.1)
    spare_x = (width - 1) / scale - (x1 - x0)
    spare_y = 2 * (height - 1) / scale - (y1 - y0)
    return Frame(x0 - spare_x / 2, y1 + spare_y / 2, scale, width, height)


def place_of(index: int, count: int) -> Place:
    """Where to draw a lamp that has no place yet: along the lower wall."""
    return Place(x_m=0.4 + 3.2 * (index + 0.5) / max(count, 1), y_m=0.3)


Spot = tuple[float, float, float, str]
Spans = list[tuple[int, str, Style]]
Rows = list[Spans]
Weights = dict[int, list[tuple[int, float]]]
"""By row: (column, share of the light)."""
SHADES = ("", "·", "░", "▒", "▓")
"""How bright a spot of floor is, as a sign: the pools show without colour too."""
LEAST = (0.04, 0.12, 0.30, 0.55)
"""What a spot has to have for each of them but the first."""


class FloorPicture:
    """The light on the floor, drawn anew at most five times a second and only when it has changed.

    A new picture comes in over three paintings, every third row at a time: no painting of the screen is then
    so long that a key would wait for it.
    """

    EVERY_S = 0.2
    PARTS = 3

    def __init__(self) -> None:
        self._key: object = None
        self._shape: object = None
        self._drawn_at = 0.0
        self._rows: Rows = []
        self._coming: list[Spot] = []
        self._part = self.PARTS
        """The part of the coming picture that is drawn next, while one is coming."""
        self._weights: dict[tuple[float, float], Weights] = {}
        self.stale = False
        """Whether the pools have changed since it was drawn."""

    def put_on(self, canvas: Canvas, show: Show, pools: list[Pool], now: float) -> None:
        """Pools of light with the lamps' names in them."""
        frame = frame_of(show, canvas.width, canvas.height)
        key = (frame, tuple(pools))
        if (frame, len(pools)) != self._shape:
            self._shape, self._weights, self._key, self._rows = (frame, len(pools)), {}, None, []
            self._part = self.PARTS
        due = self._key is None or now - self._drawn_at >= self.EVERY_S
        if self._part == self.PARTS and key != self._key and due:
            self._key, self._drawn_at = key, now
            self._coming, self._part = _spots(pools), 0
        if self._part < self.PARTS:
            self._draw_part(frame)
        self.stale = key != self._key or self._part < self.PARTS
        for y, row in enumerate(self._rows):
            for x, text, style in row:
                canvas.put(x, y, text, style)
        _put_names(canvas, frame, pools)

    def _draw_part(self, frame: Frame) -> None:
        if not self._rows:  # the first picture comes whole
            self._rows = [self._draw_row(frame, row) for row in range(frame.height)]
            self._part = self.PARTS
            return
        for row in range(self._part, frame.height, self.PARTS):
            self._rows[row] = self._draw_row(frame, row)
        self._part += 1

    def _draw_row(self, frame: Frame, row: int) -> Spans:
        """Every spot of floor as bright as all lamps make it, in the colour of the one that gives most."""
        whole, most = [0.0] * frame.width, [0.0] * frame.width
        whose = [""] * frame.width
        for x_m, y_m, strength, swatch in self._coming:
            weights = self._weights.get((x_m, y_m))
            if weights is None:
                weights = self._weights[x_m, y_m] = _weights(frame, x_m, y_m)
            for at, weight in weights.get(row, ()):
                share = strength * weight
                whole[at] += share
                if share > most[at]:
                    most[at], whose[at] = share, swatch
        return _runs(whole, whose)


def _spots(pools: list[Pool]) -> list[Spot]:
    """(x, y, strength, colour) of each lamp that is lit: in front of a lamp that aims, else around it."""
    spots: list[Spot] = []
    for index, pool in enumerate(pools):
        place = pool.place or place_of(index, len(pools))
        if pool.level > 0 and pool.swatch:
            x, y = place.x_m, place.y_m
            if place.aim_deg is not None:
                x += 0.7 * math.sin(math.radians(place.aim_deg))
                y += 0.7 * math.cos(math.radians(place.aim_deg))
            # The eye's own curve: 2 % must be seen.
            spots.append((x, y, pool.level**0.4, pool.swatch))
    return spots


def _weights(frame: Frame, x_m: float, y_m: float) -> Weights:
    """Every cell in a pool's reach."""
    found: Weights = {}
    for row in range(frame.height):
        for column in range(frame.width):
            x, y = frame.metres(column, row)
            away = ((x - x_m) ** 2 + (y - y_m) ** 2) / POOL_M**2
            if away < 1.0:
                found.setdefault(row, []).append((column, (1.0 - away) ** 1.5))
    return found


def _runs(whole: list[float], whose: list[str]) -> Spans:
    """One row of floor in as few spans as it takes."""
    signs = [SHADES[bisect_right(LEAST, share)] for share in whole]
    spans: Spans = []
    start = 0
    for (sign, swatch), cells in groupby(zip(signs, whose, strict=True)):
        end = start + sum(1 for _ in cells)
        if sign:
            spans.append((start, sign * (end - start), theme.swatch_style(swatch)))
        start = end
    return spans


def _put_names(canvas: Canvas, frame: Frame, pools: list[Pool]) -> None:
    names = []
    for index, pool in enumerate(pools):
        place = pool.place or place_of(index, len(pools))
        names.append((*frame.at(place.x_m, place.y_m), pool.id))
    _place_names(canvas, names)


def _place_names(canvas: Canvas, names: list[tuple[int, int, str]]) -> None:
    taken: set[tuple[int, int]] = set()
    for column, row, name in names:
        text = f"+{name}"
        column = max(min(column, canvas.width - len(text)), 0)
        row = max(min(row, canvas.height - 1), 0)
        for offset in (0, 1, -1, 2, -2, 3):
            cells = {(column + i, row + offset) for i in range(len(text))}
            if 0 <= row + offset < canvas.height and not cells & taken:
                taken |= cells
                canvas.put(column, row + offset, text, theme.PLAIN)
                break
