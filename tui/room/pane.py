"""The room from above with the light of each lamp as a pool, drawn in half-character squares."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from rich.style import Style

from controller.documents.show import Place, Show
from tui import look
from tui.canvas import Canvas

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
    """A frame that holds the room: 4 × 4 m, or more where something stands outside."""
    known = places(show)
    x0 = min([0.0, *(place.x_m - margin_m for place in known)])
    x1 = max([4.0, *(place.x_m + margin_m for place in known)])
    y0 = min([0.0, *(place.y_m - margin_m for place in known)])
    y1 = max([4.0, *(place.y_m + margin_m for place in known)])
    scale = max(min((width - 1) / (x1 - x0), 2 * (height - 1) / (y1 - y0)), 0.1)
    spare_x = (width - 1) / scale - (x1 - x0)
    spare_y = 2 * (height - 1) / scale - (y1 - y0)
    return Frame(x0 - spare_x / 2, y1 + spare_y / 2, scale, width, height)


def place_of(index: int, count: int) -> Place:
    """Where to draw a lamp that has no place yet: along the lower wall."""
    return Place(x_m=0.4 + 3.2 * (index + 0.5) / max(count, 1), y_m=0.3)


Spot = tuple[float, float, float, tuple[float, float, float]]
Rows = list[list[tuple[int, str, Style]]]
STEP = 16
"""Colours go in steps of this many, so that neighbours share a span and a pool costs few of them."""


class RoomPicture:
    """The light on the floor. It is drawn anew at most four times a second: nothing else costs as much."""

    EVERY_S = 0.25

    def __init__(self) -> None:
        self._key: object = None
        self._shape: object = None
        self._drawn_at = 0.0
        self._rows: Rows = []
        self._weights: dict[tuple[float, float], list[tuple[int, float]]] = {}
        self.stale = False
        """Whether the pools have changed since it was drawn."""

    def put_on(self, canvas: Canvas, show: Show, pools: list[Pool], now: float) -> None:
        """Pools of light with the lamps' names in them."""
        frame = frame_of(show, canvas.width, canvas.height)
        key = (frame, tuple(pools))
        if (frame, len(pools)) != self._shape:
            self._shape, self._weights, self._key = (frame, len(pools)), {}, None
        self.stale = key != self._key
        if self.stale and (self._key is None or now - self._drawn_at >= self.EVERY_S):
            self._key, self._drawn_at, self.stale = key, now, False
            self._rows = self._draw(frame, _spots(pools))
        for y, row in enumerate(self._rows):
            for x, text, style in row:
                canvas.put(x, y, text, style)
        _put_names(canvas, frame, pools)

    def _draw(self, frame: Frame, spots: list[Spot]) -> Rows:
        width, height = frame.width, frame.height * 2
        red, green, blue = ([0.0] * (width * height) for _ in range(3))
        touched: set[int] = set()
        for x_m, y_m, strength, (r, g, b) in spots:
            weights = self._weights.get((x_m, y_m))
            if weights is None:
                weights = self._weights[x_m, y_m] = _weights(frame, x_m, y_m)
            for at, weight in weights:
                share = strength * weight
                red[at] += share * r
                green[at] += share * g
                blue[at] += share * b
            touched.update(at for at, _ in weights)
        colours = {at: _shade(red[at], green[at], blue[at]) for at in touched}
        return [_runs(colours, width, row) for row in range(frame.height)]


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
            spots.append((x, y, pool.level**0.4, _rgb(pool.swatch)))
    return spots


def _weights(frame: Frame, x_m: float, y_m: float) -> list[tuple[int, float]]:
    """(square, share of the light) of every half-character square in a pool's reach."""
    found: list[tuple[int, float]] = []
    for row in range(frame.height * 2):
        for column in range(frame.width):
            x, y = frame.metres(column, row / 2)
            away = ((x - x_m) ** 2 + (y - y_m) ** 2) / POOL_M**2
            if away < 1.0:
                found.append((row * frame.width + column, (1.0 - away) ** 2))
    return found


def _runs(colours: dict[int, str], width: int, row: int) -> list[tuple[int, str, Style]]:
    """One row of characters: upper halves in the ink, lower halves in the paper."""
    spans: list[tuple[int, str, Style]] = []
    upper, lower = 2 * row * width, (2 * row + 1) * width
    start, ink = 0, ("", "")
    for column in range(width + 1):
        pair = (colours.get(upper + column, ""), colours.get(lower + column, "")) if column < width else None
        if pair != ink:
            if ink != ("", ""):
                style = _half_style(ink[0] or look.SLATE, ink[1] or look.SLATE)
                spans.append((start, "▀" * (column - start), style))
            start, ink = column, pair or ("", "")
    return spans


@lru_cache(maxsize=4096)
def _half_style(upper: str, lower: str) -> Style:
    return Style(color=upper, bgcolor=lower)


def _shade(red: float, green: float, blue: float) -> str:
    """A colour over the ground, in steps; nothing where it is as good as dark."""
    if red + green + blue < 24:
        return ""
    parts = (int(r + g) // STEP * STEP for r, g in zip((red, green, blue), GROUND_RGB, strict=True))
    return "#" + "".join(f"{min(part, 255):02x}" for part in parts)


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
                canvas.put(column, row + offset, text, look.PLAIN)
                break


def _rgb(colour: str) -> tuple[float, float, float]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


GROUND_RGB = _rgb(look.SLATE)
