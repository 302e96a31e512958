"""Layout of the Shoot screen, from 60 × 16 up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from onecrew.tui import theme
from onecrew.tui.desk import Desk
from onecrew.tui.drawing import lists
from onecrew.tui.drawing.canvas import Canvas, Drawn
from onecrew.tui.drawing.floor import FloorPicture, Pool
from onecrew.tui.shoot import clocks, now_next

WIDE = 112
"""From this many columns the lamps get a column of their own, from top to bottom."""


def digit_rows(height: int) -> int:
    """Rows of the block digits: a fifth of the whole screen, as long as everything else still fits."""
    whole = height + 3
    return max(3, min(-(-whole // 5), (height - 7) // 2))


class ShootView(Protocol):
    """What the layout shows of its screen."""

    seen: Sequence[Any]

    @property
    def desk(self) -> Desk: ...
    @property
    def countdown_s(self) -> float: ...
    def pools(self) -> list[Pool]: ...


class ShootBody(Drawn):
    """Now and next, take and clock, states and cues, the lamps."""

    def __init__(self, view: ShootView) -> None:
        super().__init__()
        self.view = view
        self.floor = FloorPicture()

    def draw(self, canvas: Canvas) -> None:
        screen = self.view
        if screen.desk.snapshot is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        width, height = canvas.width, canvas.height
        side = max(width // 3, 40) if width >= WIDE else 0
        if side:
            width -= side + 1
        self._main(canvas.part(0, 0, width, height), screen, lamps=not side)
        if side:
            for y in range(height):
                canvas.put(width, y, "│", theme.LINE)
            self._side(canvas.part(width + 1, 0, side, height), screen)

    def _main(self, canvas: Canvas, screen: ShootView, *, lamps: bool) -> None:
        desk = screen.desk
        snapshot, show = desk.snapshot_now, desk.show
        assert snapshot is not None
        width, height = canvas.width, canvas.height
        rows = digit_rows(height)
        tall = height >= 36
        y = 2 if tall else 1
        now_next.draw_sticks(canvas.part(0, 0, width, y), snapshot)
        half = width // 2
        first = ""
        if height - y - 2 * rows - 6 < 1:  # no space for the state words below
            first = " · ".join(word for word, _ in clocks.state_words(snapshot, lost=desk.lost is not None))
        now_next.draw_now(canvas.part(0, y, half, rows + 3), snapshot, rows, first)
        now_next.draw_next(canvas.part(half, y, width - half, rows + 3), snapshot, show, rows)
        y += rows + 3
        if height - y > rows + 2:
            canvas.rule(y)
            y += 1
        take, clock = (18, 31) if lamps and width >= 76 else (width // 3, width - width // 3)
        if rows > 5:
            take = max(take, 4 * rows)
        clocks.draw_take(canvas.part(0, y, take, rows + 2), snapshot, rows, desk.wall())
        at_clock = canvas.part(take + 1, y, clock, rows + 2)
        counting = snapshot.countdown or snapshot.fade or snapshot.auto_follow_left_s is not None
        if show is not None and height - y - rows - 2 < 1 and not counting:
            lists.draw_cues(at_clock, show, snapshot)  # no space for them below
        else:
            clocks.draw_clock(at_clock, snapshot, rows, screen.countdown_s)
        if lamps and width >= 76:
            x = take + clock + 1
            lists.draw_lamps(canvas.part(x, y, width - x, rows + 2), *self._lamp_list(screen))
        y += rows + 2
        if height - y >= 3:
            canvas.rule(y)
            y += 1
        self._band(canvas.part(0, y, width, height - y), screen)

    def _band(self, canvas: Canvas, screen: ShootView) -> None:
        desk = screen.desk
        snapshot = desk.snapshot
        assert snapshot is not None
        said = clocks.state_words(snapshot, lost=desk.lost is not None)
        if said and canvas.height >= 8:
            clocks.draw_states(canvas.part(0, canvas.height - 4, canvas.width, 4), said)
            canvas = canvas.part(0, 0, canvas.width, canvas.height - 5)
        elif said:
            x = clocks.draw_states(canvas, said)
            canvas = canvas.part(x, 0, canvas.width - x, canvas.height)
        if desk.show is not None and canvas.width >= 18 and canvas.height:
            lists.draw_cues(canvas, desk.show, snapshot)

    def _side(self, canvas: Canvas, screen: ShootView) -> None:
        title, lines = self._lamp_list(screen)
        listed = min(len(lines) + 1, canvas.height)
        lists.draw_lamps(canvas.part(0, 0, canvas.width, listed), title, lines)
        rest = canvas.height - listed - 1
        if rest >= 8 and screen.desk.show is not None:
            part = canvas.part(1, listed + 1, canvas.width - 1, rest)
            self.floor.put_on(part, screen.desk.show, screen.pools(), screen.desk.clock())

    def _lamp_list(self, screen: ShootView) -> tuple[str, list[lists.LampLine]]:
        desk = screen.desk
        assert desk.snapshot is not None
        if desk.receiver is not None:
            return "RECEIVER SEES", lists.seen_lines(screen.seen)
        return "LAMPS", lists.lamp_lines(desk.snapshot, desk.show)
