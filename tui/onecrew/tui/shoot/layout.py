"""Layout of the Shoot screen, from 60 × 16 up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Protocol

from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import theme, words
from onecrew.tui.desk import Desk
from onecrew.tui.drawing import block_digits, lists
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget
from onecrew.tui.drawing.floor import FloorPicture, Pool
from onecrew.tui.shoot import clocks, now_next

WIDE = 112
"""From this many columns the lamps get a column of their own, from top to bottom."""
TALL = 36
"""From this many rows now stands above next, and their names in block letters beside the numbers."""


def digit_rows(height: int) -> int:
    """Rows of the block digits: a fifth of the whole screen, as long as everything else still fits."""
    whole = height + 3
    return max(3, min(-(-whole // 5), (height - 7) // 2))


def _loud(desk: Desk) -> list[tuple[str, str]]:
    away = [("NO ENGINE", "reconnecting")] if desk.lost is not None else []
    return [*away, *(words.loud_states(desk.snapshot) if desk.snapshot is not None else ())]


class ShootView(Protocol):
    """What the layout shows of its screen."""

    seen: Sequence[Any]

    @property
    def desk(self) -> Desk: ...
    @property
    def countdown_s(self) -> float: ...
    def pools(self) -> list[Pool]: ...


class ShootBody(CanvasWidget):
    """Now and next, take and clock, states and cues, the lamps."""

    def __init__(self, view: ShootView) -> None:
        super().__init__()
        self.view = view
        self.floor = FloorPicture()

    def draw_by_parts(self, canvas: Canvas) -> Iterator[None]:
        screen = self.view
        if screen.desk.snapshot is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        width, height = canvas.width, canvas.height
        side = max(width // 3, 40) if width >= WIDE else 0
        if side:
            width -= side + 1
        yield from self._main(canvas.part(0, 0, width, height), screen, lamps=not side)
        if side:
            for y in range(height):
                canvas.put(width, y, "│", theme.LINE)
            yield from self._side(canvas.part(width + 1, 0, side, height), screen)

    def _main(self, canvas: Canvas, screen: ShootView, *, lamps: bool) -> Iterator[None]:
        desk = screen.desk
        snapshot, show = desk.snapshot_now, desk.show
        assert snapshot is not None
        width, height = canvas.width, canvas.height
        rows = digit_rows(height)
        cue = show.cue(snapshot.cue) if show is not None else None
        note = cue.note if cue is not None else ""
        if height >= TALL:
            y = self._now_above_next(canvas, snapshot, show, rows)
            rows = max(rows - 3, 5)
        else:
            y = self._now_beside_next(canvas, screen, snapshot, note, rows)
        if height - y > rows + 2:
            canvas.rule(y)
            y += 1
        yield
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
        yield
        y += rows + 2
        if height - y >= 3:
            canvas.rule(y)
            y += 1
        self._band(canvas.part(0, y, width, height - y), screen, note if height >= TALL else "")
        yield

    def _now_above_next(self, canvas: Canvas, snapshot: Snapshot, show: Show | None, rows: int) -> int:
        """Now and next over the whole width, their names in block letters; returns the row after them."""
        now_next.draw_sticks(canvas.part(0, 0, canvas.width, 2), snapshot)
        now_next.draw_now(canvas.part(0, 2, canvas.width, rows + 2), snapshot, show, "", rows)
        now_next.draw_next(canvas.part(0, rows + 5, canvas.width, rows - 1), snapshot, show, rows - 3)
        return 2 * rows + 4

    def _now_beside_next(
        self, canvas: Canvas, screen: ShootView, snapshot: Snapshot, note: str, rows: int
    ) -> int:
        """Now on the left, next on the right; returns the row after them."""
        now_next.draw_sticks(canvas.part(0, 0, canvas.width, 1), snapshot)
        half = canvas.width // 2
        first = ""
        if canvas.height - 1 - 2 * rows - 6 < 1:  # no space for the state words below
            first = " · ".join(word for word, _ in _loud(screen.desk))
        now_next.draw_now(canvas.part(0, 1, half, rows + 3), snapshot, screen.desk.show, note, rows, first)
        beside = canvas.part(half, 1, canvas.width - half, rows + 3)
        now_next.draw_next(beside, snapshot, screen.desk.show, rows)
        return rows + 4

    def _band(self, canvas: Canvas, screen: ShootView, note: str) -> None:
        """The states in block letters, the note of the present cue, the cues."""
        desk = screen.desk
        snapshot = desk.snapshot
        assert snapshot is not None
        said = _loud(desk)
        if said and canvas.height >= 8:
            clocks.draw_states(canvas.part(0, canvas.height - 4, canvas.width, 4), said)
            canvas = canvas.part(0, 0, canvas.width, canvas.height - 5)
        elif said:
            x = clocks.draw_states(canvas, said)
            canvas = canvas.part(x, 0, canvas.width - x, canvas.height)
        if note and canvas.height >= 3:
            y = block_digits.put_text(
                canvas.part(1, 0, canvas.width - 2, canvas.height - 2), note, theme.STRONG
            )
            canvas = canvas.part(0, y + 1, canvas.width, canvas.height - y - 1)
        if desk.show is not None and canvas.width >= 18 and canvas.height:
            lists.draw_cues(canvas, desk.show, snapshot)

    def _side(self, canvas: Canvas, screen: ShootView) -> Iterator[None]:
        title, lines = self._lamp_list(screen)
        listed = min(len(lines) + 1, canvas.height)
        lists.draw_lamps(canvas.part(0, 0, canvas.width, listed), title, lines)
        yield
        rest = canvas.height - listed - 1
        if rest >= 8 and screen.desk.show is not None:
            part = canvas.part(1, listed + 1, canvas.width - 1, rest)
            self.floor.put_on(part, screen.desk.show, screen.pools(), screen.desk.clock())
            yield

    def _lamp_list(self, screen: ShootView) -> tuple[str, list[lists.LampLine]]:
        desk = screen.desk
        assert desk.snapshot is not None
        if desk.receiver is not None:
            return "RECEIVER SEES", lists.seen_lines(screen.seen)
        return "LAMPS", lists.lamp_lines(desk.snapshot, desk.show)
