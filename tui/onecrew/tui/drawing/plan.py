"""The room from above in characters: walls, lamps and their aims, set pieces, camera, subject."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from rich.style import Style

from onecrew.plan.assumed import is_subject, size_of
from onecrew.show.photometry import Units
from onecrew.show.show import Place, Show
from onecrew.tui import theme
from onecrew.tui.drawing.braille import Dots
from onecrew.tui.drawing.canvas import Canvas
from onecrew.tui.drawing.floor import Frame, frame_of, place_of, places

ARROWS = "↑↗→↘↓↙←↖"
SIGNS = {"lamp": "●", "camera": "◙", "subject": "☺", "set piece": "■"}
REACH_M = 1.1
BEAMS = ("lamp", "camera", "subject")
"""What is drawn with a cone where it aims or looks."""


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that stands in the room: ``kind`` is lamp, camera, subject or set piece."""

    kind: str
    id: str
    place: Place
    placed: bool
    """False where it has no place yet and is drawn along the wall."""
    said: str = ""


def things(show: Show) -> list[Thing]:
    """Everything on the plan: lamps in rig order, then set pieces, then the camera."""
    lamps = show.rig.fixtures
    found = [
        Thing("lamp", lamp.id, lamp.place or place_of(index, len(lamps)), lamp.place is not None, lamp.role)
        for index, lamp in enumerate(lamps)
    ]
    for piece in show.rig.set_pieces:
        kind = "subject" if is_subject(piece) else "set piece"
        place = piece.place or Place(x_m=2.0, y_m=2.0)
        found.append(Thing(kind, piece.id, place, piece.place is not None, piece.kind))
    camera = show.camera.place
    found.append(Thing("camera", "camera", camera or Place(x_m=2.0, y_m=0.2, aim_deg=0), camera is not None))
    return found


def arrow(aim_deg: float) -> str:
    """The arrow nearest to a direction, clockwise from the top."""
    return ARROWS[round(aim_deg / 45) % 8]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Where things were drawn."""

    frame: Frame
    room: tuple[float, float]
    """Width and depth, metres."""
    cells: Mapping[tuple[int, int], int]
    """By column and row: which thing stands there, by its number."""

    def at(self, column: int, row: int) -> int | None:
        """The thing under the pointer, or right beside it."""
        for beside in (0, -1, 1, -2, 2):
            found = self.cells.get((column + beside, row))
            if found is not None:
                return found
        return None


def draw_plan(
    canvas: Canvas,
    show: Show,
    all_things: list[Thing],
    chosen: int,
    moved: Mapping[str, Place],
    under: Callable[[Canvas, Frame, tuple[float, float]], None] | None = None,
) -> Drawing:
    """Walls, beams, then the things with their names; ``moved`` holds places that are not sent yet.

    ``under`` draws on the floor, in place of the beams.
    """
    frame = frame_of(show, canvas.width, canvas.height)
    dots = Dots(canvas.width, canvas.height)
    wide, deep, _ = size_of(show.room, places(show))
    corners = [(0.0, 0.0), (wide, 0.0), (wide, deep), (0.0, deep), (0.0, 0.0)]
    dots.line([_cell(frame, x, y) for x, y in corners], theme.LINE, every=2)
    for index, thing in enumerate(all_things):
        place = moved.get(f"{thing.kind} {thing.id}", thing.place)
        if place.aim_deg is not None and thing.kind in BEAMS and under is None:
            style = theme.NEXT if index == chosen else theme.LABEL
            _beam(dots, frame, place, style)
    dots.put_on(canvas)
    if under is not None:
        under(canvas, frame, (wide, deep))
    _scale(canvas, frame, show.room.units)
    taken: dict[tuple[int, int], int] = {}
    order = sorted(range(len(all_things)), key=lambda index: index != chosen)
    for index in order:
        thing = all_things[index]
        place = moved.get(f"{thing.kind} {thing.id}", thing.place)
        _draw_thing(canvas, frame, index, thing, place, chosen=index == chosen, taken=taken)
    return Drawing(frame, (wide, deep), taken)


def _cell(frame: Frame, x_m: float, y_m: float) -> tuple[float, float]:
    return (x_m - frame.left_m) * frame.columns_per_m, (frame.top_m - y_m) * frame.columns_per_m / 2


def _beam(dots: Dots, frame: Frame, place: Place, style: Style) -> None:
    assert place.aim_deg is not None
    for spread in (-14, 14):
        angle = math.radians(place.aim_deg + spread)
        end = (place.x_m + REACH_M * math.sin(angle), place.y_m + REACH_M * math.cos(angle))
        dots.line([_cell(frame, place.x_m, place.y_m), _cell(frame, *end)], style, every=3)


def _draw_thing(
    canvas: Canvas,
    frame: Frame,
    index: int,
    thing: Thing,
    place: Place,
    *,
    chosen: bool,
    taken: dict[tuple[int, int], int],
) -> None:
    column, row = frame.at(place.x_m, place.y_m)
    column, row = min(max(column, 0), canvas.width - 1), min(max(row, 0), canvas.height - 1)
    style = theme.NEXT if chosen else theme.NOW if thing.kind == "lamp" else theme.PLAIN
    mark = SIGNS[thing.kind] + (arrow(place.aim_deg) if place.aim_deg is not None else "")
    text = f"{mark} {thing.id}" + ("" if thing.placed else " ?")
    if chosen:
        text = f"▸{text}"
        column = max(column - 1, 0)
    if column + len(text) > canvas.width:
        column = max(canvas.width - len(text), 0)
    for step in (0, 1, -1, 2, -2, 3, -3):
        cells = [(column + each, row + step) for each in range(len(text) + 1)]
        if 0 <= row + step < canvas.height and taken.keys().isdisjoint(cells):
            taken.update(dict.fromkeys(cells, index))
            canvas.put(column, row + step, f"{text} ", style)
            return
    canvas.put(column, row, mark, style)


def _scale(canvas: Canvas, frame: Frame, units: Units) -> None:
    long_m, said = (1.0, "1 m") if units == "metres" else (0.9144, "3 ft")
    columns = max(round(frame.columns_per_m * long_m), 2)
    canvas.put(1, canvas.height - 1, "├" + "─" * (columns - 2) + f"┤ {said}", theme.LABEL)
