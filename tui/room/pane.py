"""The room from above with the light of each lamp as a pool, drawn in half-character squares."""

from __future__ import annotations

import math
from dataclasses import dataclass

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


def draw_room(canvas: Canvas, show: Show, pools: list[Pool]) -> None:
    """Pools of light with the lamps' names in them."""
    frame = frame_of(show, canvas.width, canvas.height)
    spots: list[tuple[float, float, float, tuple[float, float, float]]] = []
    names: list[tuple[int, int, str]] = []
    for index, pool in enumerate(pools):
        place = pool.place or place_of(index, len(pools))
        column, row = frame.at(place.x_m, place.y_m)
        names.append((column, row, pool.id))
        if pool.level > 0 and pool.swatch:
            x, y = place.x_m, place.y_m
            if place.aim_deg is not None:
                x += 0.7 * math.sin(math.radians(place.aim_deg))
                y += 0.7 * math.cos(math.radians(place.aim_deg))
            # A square root keeps 2 % visible, as the eye does.
            spots.append((x, y, math.sqrt(pool.level), _rgb(pool.swatch)))
    taken = _place_names(canvas, names)
    ground = _rgb(look.SLATE)
    lines = [
        [_shade(frame, column, row / 2, spots, ground) for column in range(canvas.width)]
        for row in range(canvas.height * 2)
    ]
    for row in range(canvas.height):
        upper, lower = lines[2 * row], lines[2 * row + 1]
        column = 0
        while column < canvas.width:
            if (column, row) in taken:
                column += 1
                continue
            end = column + 1
            while (
                end < canvas.width
                and (end, row) not in taken
                and upper[end] == upper[column]
                and lower[end] == lower[column]
            ):
                end += 1
            if upper[column] != look.SLATE or lower[column] != look.SLATE:
                style = Style(color=upper[column], bgcolor=lower[column])
                canvas.put(column, row, "▀" * (end - column), style)
            column = end


def _place_names(canvas: Canvas, names: list[tuple[int, int, str]]) -> set[tuple[int, int]]:
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
    return taken


def _rgb(colour: str) -> tuple[float, float, float]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _shade(
    frame: Frame,
    column: float,
    row: float,
    spots: list[tuple[float, float, float, tuple[float, float, float]]],
    ground: tuple[float, float, float],
) -> str:
    if not spots:
        return look.SLATE
    x, y = frame.metres(column, row)
    red, green, blue = ground
    for spot_x, spot_y, strength, (r, g, b) in spots:
        away = ((x - spot_x) ** 2 + (y - spot_y) ** 2) / POOL_M**2
        if away < 1.0:
            share = strength * (1.0 - away) ** 2
            red, green, blue = red + share * r, green + share * g, blue + share * b
    # Steps of 12 keep runs of one colour together, so that a pool costs few spans.
    return "#" + "".join(f"{min(int(c) // 12 * 12, 255):02x}" for c in (red, green, blue)) if (
        red > ground[0] + 4 or blue > ground[2] + 4 or green > ground[1] + 4
    ) else look.SLATE  # fmt: skip
