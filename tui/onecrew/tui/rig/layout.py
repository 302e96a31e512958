"""Layout of the Rig screen."""

from __future__ import annotations

from typing import Any, Protocol

from onecrew.show.show import Fixture, Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import theme
from onecrew.tui.desk import Desk
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget
from onecrew.tui.drawing.plan import draw_plan, things
from onecrew.tui.rig import panes
from onecrew.tui.rig.addresses import Kind

WIDE = 130
"""From this many columns the network has a column of its own."""
LEFT = 72
LAMP = 3
"""Rows for what the lamp under the cursor is, what to set its menu to, and a blank one."""


class RigView(Protocol):
    """What the layout shows of its screen."""

    kinds: tuple[Kind, ...]
    sources: dict[str, Any] | None

    @property
    def desk(self) -> Desk: ...
    @property
    def cursor(self) -> int: ...
    def chosen(self) -> Fixture | None: ...
    def universe(self) -> int: ...


class RigBody(CanvasWidget):
    """Patch, map, the lamp under the cursor, outputs, sources."""

    def __init__(self, view: RigView) -> None:
        super().__init__()
        self.view = view

    def draw(self, canvas: Canvas) -> None:
        screen = self.view
        show, snapshot = screen.desk.show, screen.desk.snapshot if screen.desk.lost is None else None
        if show is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        width, height = canvas.width, canvas.height
        wide = width >= WIDE
        left = LEFT if wide else width
        mapped = panes.map_rows(show, screen.kinds, screen.universe(), left)
        tall = height >= 19
        net = 0 if wide else self._network_rows(screen, show, snapshot, width) if tall else 3
        space = height - 2 - mapped - net - (LAMP if tall else 0)
        y = self._patch(canvas, screen, show, snapshot, space=space)
        panes.draw_map(canvas.part(0, y, left, mapped), show, screen.kinds, screen.universe(), screen.cursor)
        below = y  # where the network ends, if it has a column of its own
        if wide:
            part = canvas.part(LEFT + 2, y, width - LEFT - 2, height - y)
            below += self._network(part, screen, show, snapshot)
        y += mapped + 1 if height - y - mapped - net > LAMP else mapped
        fixture = screen.chosen()
        rest = height - y - net
        if fixture is not None and rest >= LAMP:
            told = min(rest, 8 if wide else 6)
            self._one(canvas.part(0, y, left, told - 1), screen, fixture, snapshot)
            y += told
            below = max(y, below)
            if wide and height - below >= 14:
                draw_plan(canvas.part(0, below, width, height - below), show, things(show), screen.cursor, {})
        if not wide:
            self._network(canvas.part(0, y, width, height - y), screen, show, snapshot)

    def _network_rows(self, screen: RigView, show: Show, snapshot: Snapshot | None, width: int) -> int:
        """Rows to keep for outputs and sources below the lamps, heads included."""
        outputs = len(panes.output_lines(snapshot, width))
        return min(outputs, 4) + min(len(panes.source_rows(show, screen.sources, width)), 2) + 2

    def _patch(
        self, canvas: Canvas, screen: RigView, show: Show, snapshot: Snapshot | None, *, space: int
    ) -> int:
        """The list of lamps and the line below; returns the row after it."""
        fixtures, cursor = show.rig.fixtures, screen.cursor
        listed = min(len(fixtures), max(space, 2))
        if fixtures:
            top = self.window.first(cursor, listed, len(fixtures))
            part = canvas.part(0, 0, canvas.width, listed + 1)
            panes.draw_patch(part, show, snapshot, screen.kinds, cursor, top)
        else:
            canvas.put(1, 0, "No lamps yet: a adds the first.", theme.STRONG)
        canvas.rule(listed + 1)
        if listed < len(fixtures):
            canvas.put_right(listed + 1, f" {len(fixtures) - listed} more lamps, ↑ ↓ ", theme.LABEL, margin=2)
        return listed + 2

    def _one(self, canvas: Canvas, screen: RigView, fixture: Fixture, snapshot: Snapshot | None) -> None:
        light = snapshot.lights.get(fixture.id) if snapshot is not None else None
        panes.draw_one(canvas, fixture, light, screen.kinds)

    def _network(self, canvas: Canvas, screen: RigView, show: Show, snapshot: Snapshot | None) -> int:
        """Outputs, then the sources heard, then the remotes; returns the rows taken."""
        lines = panes.output_lines(snapshot, canvas.width)
        rows = min(len(lines) + 1, max(canvas.height - 2, 2))
        panes.draw_outputs(canvas.part(0, 0, canvas.width, rows), lines)
        y = rows + (1 if canvas.height >= rows + 8 else 0)
        heard = panes.source_rows(show, screen.sources, canvas.width)
        panes.draw_sources(canvas.part(0, y, canvas.width, canvas.height - y), heard)
        y += len(heard) + 2
        if canvas.height - y >= 3 and screen.desk.snapshot is not None:
            y += panes.draw_remotes(
                canvas.part(0, y, canvas.width, canvas.height - y), show, screen.desk.snapshot
            )
        return y
