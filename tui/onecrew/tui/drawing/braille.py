"""Braille: thin lines in characters, two by four dots a cell, by Braille patterns of Unicode."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from rich.style import Style

from onecrew.tui.drawing.canvas import Canvas

# Unicode 16.0, Braille Patterns (U+2800): the bit of each dot, by row and column of the cell.
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
LIMIT = 4000
"""Most dots of one line: a stray point far outside costs no more than this."""


class Dots:
    """A field of dots over ``width`` × ``height`` cells; each cell keeps the style that came last."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self._cells: dict[tuple[int, int], tuple[int, Style]] = {}

    def dot(self, x: int, y: int, style: Style) -> None:
        cell = (x // 2, y // 4)
        if 0 <= cell[0] < self.width and 0 <= cell[1] < self.height:
            before = self._cells.get(cell, (0, style))[0]
            self._cells[cell] = (before | _BITS[y % 4][x % 2], style)

    def line(self, points: Sequence[tuple[float, float]], style: Style, every: int = 1) -> None:
        """A line through points given in cells; ``every`` n-th dot makes it dotted."""
        count = 0
        for (x0, y0), (x1, y1) in pairwise(points):
            steps = min(max(int(2 * abs(x1 - x0)), int(4 * abs(y1 - y0)), 1), LIMIT)
            for step in range(steps + 1):
                share = step / steps
                if count % every == 0:
                    self.dot(int(2 * (x0 + share * (x1 - x0))), int(4 * (y0 + share * (y1 - y0))), style)
                count += 1

    def spans(self) -> list[tuple[int, int, str, Style]]:
        """(column, row, text, style), neighbours of one style in one piece."""
        found: list[tuple[int, int, str, Style]] = []
        for (x, y), (bits, style) in sorted(self._cells.items(), key=lambda cell: (cell[0][1], cell[0][0])):
            sign = chr(0x2800 + bits)
            if found:
                at, row, text, before = found[-1]
                if row == y and at + len(text) == x and before == style:
                    found[-1] = (at, row, text + sign, style)
                    continue
            found.append((x, y, sign, style))
        return found

    def put_on(self, canvas: Canvas) -> None:
        for x, y, text, style in self.spans():
            canvas.put(x, y, text, style)


def closed(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """A ring of points, back at its first; two points stay a line."""
    ring = list(points)
    return [*ring, ring[0]] if len(ring) > 2 else ring
