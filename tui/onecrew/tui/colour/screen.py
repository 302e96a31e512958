"""The Colour screen: every lamp on the u′v′ diagram, and the gamut of the one under the cursor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, cast

from textual.app import ComposeResult

from onecrew.tui import theme, words
from onecrew.tui.actions import Action, calls
from onecrew.tui.charts import ChartStore
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit
from onecrew.tui.drawing.diagram import Diagram, uv_of
from onecrew.tui.everywhere import usual
from onecrew.tui.lamps import CHOOSE, NUDGES, LampScreen

COLOUR: tuple[Action, ...] = (
    *CHOOSE,
    Action("zoom", ("z",), "z", "zoom", "The whites enlarged, or the whole diagram",
           calls("zoom"), 1),
    *NUDGES,
    *usual(),
)  # fmt: skip


class ColourBody(CanvasWidget):
    """The diagram, and the lamps beside it in numbers."""

    def __init__(self) -> None:
        super().__init__()
        self.diagram = Diagram()
        self.charts = ChartStore(lambda: cast(Colour, self.screen).desk)

    def draw_by_parts(self, canvas: Canvas) -> Iterator[None]:
        screen = cast(Colour, self.screen)
        side = 30 if canvas.width >= 76 else 0
        plot = canvas.part(0, 0, canvas.width - side, canvas.height)
        store, lead = self.charts, screen.chosen()
        if not store.charts.planck:
            plot.put(1, 1, "Waiting for the engine…", theme.LABEL)
        name = lead.id if lead is not None else None
        outline = store.gamut(name)[0] if name is not None else ()
        self.diagram.put_on(plot, store.charts, outline, store.spots(name), whole=screen.whole)
        plot.put(1, 0, "whole u′v′ diagram" if screen.whole else "u′v′, the whites", theme.LABEL)
        yield
        if side:
            self._list(canvas.part(canvas.width - side, 0, side, canvas.height), screen)
            yield

    def _list(self, canvas: Canvas, screen: Colour) -> None:
        show, snapshot = screen.desk.show, screen.desk.snapshot
        if show is None or snapshot is None:
            return
        for y in range(canvas.height):
            canvas.put(0, y, "│", theme.LINE)
        space = canvas.height - 8
        fixtures = show.rig.fixtures
        top = self.window.first(screen.cursor, space, len(fixtures))
        for y, fixture in enumerate(fixtures[top : top + space]):
            light = snapshot.lights.get(fixture.id)
            here = top + y == screen.cursor
            canvas.target(1, y, canvas.width, "lamp", fixture.id)
            style = (
                theme.NEXT if here else theme.PLAIN if light is not None and light.level > 0 else theme.LABEL
            )
            canvas.put(1, y, "▸" if here else " ", theme.NOW)
            canvas.put(3, y, fit(fixture.id, 10), style)
            if light is not None:
                canvas.put(14, y, "██", theme.swatch_style(light.swatch))
                said = words.cct(light.white.cct_k) if light.white is not None else "coloured"
                canvas.put(17, y, f"{said}{' !' if light.notes else ''}", style)
        self._chosen(canvas.part(2, canvas.height - 7, canvas.width - 2, 7), screen)

    def _chosen(self, canvas: Canvas, screen: Colour) -> None:
        snapshot, lead = screen.desk.snapshot, screen.chosen()
        light = snapshot.lights.get(lead.id) if snapshot is not None and lead is not None else None
        if light is None or lead is None:
            return
        name = lead.id
        canvas.put(0, 0, name, theme.NEXT)
        u, v = uv_of(light.xy)
        lines = [f"u′v′ {u:.4f} {v:.4f}", f"xy   {light.xy[0]:.4f} {light.xy[1]:.4f}"]
        if light.white is not None:
            lines.append(f"{words.cct(light.white.cct_k)}, {words.tint(light.white.duv)}")
        range_k = self.charts.gamut(name)[1]
        if range_k is not None:
            lines.append(f"whites {range_k[0]:.0f}–{range_k[1]:.0f} K")
        lines.append("● now  ○ target  × daylight")
        for y, line in enumerate(lines, 1):
            canvas.put(0, y, fit(line, canvas.width - 1), theme.PLAIN)
        if light.notes:
            canvas.put(0, len(lines) + 1, fit(f"! {light.notes[0]}", canvas.width - 1), theme.WARN)


class Colour(LampScreen):
    """Each lamp's colour, its target, and its gamut."""

    TITLE = "Colour"
    TOPIC = "rendition"
    ACTIONS: ClassVar[tuple[Action, ...]] = COLOUR

    def __init__(self) -> None:
        super().__init__()
        self.whole = False

    def body(self) -> ComposeResult:
        yield ColourBody()

    def zoom(self) -> None:
        self.whole = not self.whole
        self.renew()
