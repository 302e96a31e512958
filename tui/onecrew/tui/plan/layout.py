"""Layout of the Plan screen: the room from above, what stands in it, what is chosen in numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Protocol

from textual import events

from onecrew.show.show import Place
from onecrew.tui import theme
from onecrew.tui.desk import Desk
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit, wrap
from onecrew.tui.drawing.floor import Frame
from onecrew.tui.drawing.light_map import LEGEND, draw_light
from onecrew.tui.drawing.plan import Drawing, Thing, draw_plan

if TYPE_CHECKING:
    from onecrew.plan.light_map import LightMap

SIDE = 28
LEAST_LISTED = 4


class PlanView(Protocol):
    """What the layout shows of its screen, and what the mouse does there."""

    cursor: int
    moved: dict[str, Place]

    @property
    def desk(self) -> Desk: ...
    def things(self) -> list[Thing]: ...
    def lines(self, thing: Thing) -> list[str]: ...
    def light(self) -> tuple[LightMap, float, str] | None: ...
    def choose_at(self, index: int) -> None: ...
    def drag_to(self, x_m: float, y_m: float, cell_m: float) -> None: ...
    def aim_to(self, x_m: float, y_m: float) -> None: ...
    def turn(self, degrees: float) -> None: ...
    def place(self, thing: Thing) -> Place: ...
    def drop(self) -> None: ...


class PlanBody(CanvasWidget):
    """The plan, and what is chosen in numbers. The left button moves a thing, the right one aims it, the
    wheel turns what is held."""

    def __init__(self, view: PlanView) -> None:
        super().__init__()
        self.view = view
        self._drawing: Drawing | None = None
        self._listed: Mapping[int, int] = {}
        """By row of the list: the number of the thing."""
        self._held: tuple[float, float] | None = None
        """From the pointer to the thing that is dragged, metres."""
        self._aiming = False

    def draw(self, canvas: Canvas) -> None:
        screen = self.view
        show = screen.desk.show
        if show is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        found = screen.things()
        side = SIDE if canvas.width >= 70 else 0
        plan = canvas.part(0, 0, canvas.width - side, canvas.height - (0 if side else 1))
        light = screen.light()

        def under(canvas: Canvas, frame: Frame, room: tuple[float, float]) -> None:
            assert light is not None
            draw_light(canvas, frame, light[0], light[1], room)

        self._drawing = draw_plan(
            plan, show, found, screen.cursor, screen.moved, under if light is not None else None
        )
        if light is not None:
            plan.put(0, 0, fit(f" {LEGEND}{light[2]}", plan.width), theme.STRONG)
        thing = found[screen.cursor]
        self._listed = {}
        if side:
            self._list(canvas.part(canvas.width - side, 0, side, canvas.height), found)
        else:
            canvas.put(
                1, canvas.height - 1, fit(", ".join(screen.lines(thing)), canvas.width - 2), theme.NEXT
            )

    def _list(self, canvas: Canvas, found: list[Thing]) -> None:
        screen = self.view
        for y in range(canvas.height):
            canvas.put(0, y, "│", theme.LINE)
        told = [
            piece for line in screen.lines(found[screen.cursor]) for piece in wrap(line, canvas.width - 3)
        ]
        told = told[: canvas.height - LEAST_LISTED - 1]
        space = canvas.height - len(told) - 1
        top = self.window.first(screen.cursor, space, len(found))
        self._listed = {y: top + y for y in range(min(space, len(found) - top))}
        for y, index in self._listed.items():
            thing, here = found[index], index == screen.cursor
            style = theme.NEXT if here else theme.PLAIN if thing.placed else theme.LABEL
            canvas.put(1, y, "▸" if here else " ", theme.NOW)
            canvas.put(3, y, fit(thing.id, 11), style)
            said = thing.said or thing.kind
            canvas.put(15, y, fit(said if thing.placed else "no place yet", 12), theme.LABEL)
        for y, line in enumerate(told, canvas.height - len(told)):
            style = theme.NEXT if y == canvas.height - len(told) or line.startswith("at ") else theme.PLAIN
            canvas.put(2, y, line, style)

    # ── the mouse ───────────────────────────────────────────────────────────────────────────────

    def on_mouse_down(self, event: events.MouseDown) -> None:
        if self._drawing is None:
            return
        event.stop()
        if self.size.width >= 70 and event.x >= self.size.width - SIDE:
            index = self._listed.get(event.y)
            if index is not None:
                self.view.choose_at(index)
            return
        if event.button == 3:
            self._aiming = True
            self._aim(event)
        else:
            index = self._drawing.at(event.x, event.y)
            if index is None:
                return
            self.view.choose_at(index)
            place = self.view.place(self.view.things()[index])
            x_m, y_m = self._drawing.frame.metres(event.x, event.y)
            self._held = place.x_m - x_m, place.y_m - y_m
        self.capture_mouse()

    def on_mouse_move(self, event: events.MouseMove) -> None:
        if self._aiming:
            self._aim(event)
        elif self._held is not None and self._drawing is not None:
            frame = self._drawing.frame
            x_m, y_m = frame.metres(event.x, event.y)
            self.view.drag_to(x_m + self._held[0], y_m + self._held[1], 1.0 / frame.columns_per_m)

    def _aim(self, event: events.MouseEvent) -> None:
        assert self._drawing is not None
        self.view.aim_to(*self._drawing.frame.metres(event.x, event.y))

    def on_mouse_up(self, event: events.MouseUp) -> None:
        event.stop()
        if self._held is not None or self._aiming:
            self.let_go()
            self.view.drop()

    def let_go(self) -> None:
        """What was held moves no more."""
        self._held, self._aiming = None, False
        self.release_mouse()

    def scroll_lines(self, lines: int) -> None:
        """The wheel turns what the pointer holds; else it moves the list, and nothing in the room."""
        if self._held is not None:
            self.view.turn(math.copysign(5.0, lines))
        else:
            super().scroll_lines(lines)
