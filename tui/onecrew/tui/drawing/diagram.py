"""The CIE 1976 u′v′ diagram: locus, daylight, the gamut of the chosen lamp, where each lamp is and goes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.style import Style

from onecrew.tui import theme
from onecrew.tui.drawing.braille import Dots, closed
from onecrew.tui.drawing.canvas import Canvas

Uv = tuple[float, float]


def uv_of(xy: tuple[float, float]) -> Uv:
    """CIE 1931 (x, y) as CIE 1976 (u′, v′): u′ = 4x / (−2x + 12y + 3), v′ = 9y / (same); CIE 15:2004."""
    x, y = xy
    below = -2 * x + 12 * y + 3
    return (4 * x / below, 9 * y / below) if below else (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class View:
    """The part of the diagram that is shown; a row is two columns high, so that a unit is square."""

    middle: Uv
    span_v: float
    width: int
    height: int

    def at(self, uv: Uv) -> tuple[float, float]:
        """(column, row) of a chromaticity, in cells."""
        per_unit = self.height / self.span_v
        return (
            self.width / 2 + (uv[0] - self.middle[0]) * per_unit * 2,
            self.height / 2 - (uv[1] - self.middle[1]) * per_unit,
        )


@dataclass(frozen=True, slots=True)
class Spot:
    """One lamp on the diagram."""

    id: str
    uv: Uv
    goal: Uv | None
    chosen: bool
    lit: bool


@dataclass(frozen=True, slots=True)
class Charts:
    """What does not change: the lines that the engine knows. Empty until it has answered."""

    planck: tuple[tuple[float, float, float], ...] = ()
    daylight: tuple[tuple[float, float, float], ...] = ()
    spectrum: tuple[tuple[float, float, float], ...] = ()

    @classmethod
    def of(cls, answer: Mapping[str, Any]) -> Charts:
        def triples(name: str) -> tuple[tuple[float, float, float], ...]:
            return tuple((float(a), float(b), float(c)) for a, b, c in answer.get(name, ()))

        return cls(triples("planck"), triples("daylight"), triples("spectrum"))


WHITES = 0.16
WHOLE = 0.66
MARKS_K = (1500, 2000, 2800, 3200, 4300, 5600, 6500, 10000, 20000)


def view_of(spots: Sequence[Spot], *, whole: bool, width: int, height: int) -> View:
    """The whole diagram, or the whites with every lamp that is lit near them."""
    if whole:
        return View((0.31, 0.31), WHOLE, width, height)
    chosen = next((spot for spot in spots if spot.chosen), None)
    middle, span = (0.23, 0.50), WHITES
    if chosen is not None:
        inside = abs(chosen.uv[1] - middle[1]) < span / 2.2 and abs(chosen.uv[0] - middle[0]) < span * 0.8
        middle = middle if inside else chosen.uv
    return View(middle, span, width, height)


class Diagram:
    """Draws the diagram. Its lines are kept between two drawings: only the lamps move."""

    def __init__(self) -> None:
        self._of: tuple[Charts, Sequence[Uv], View] | None = None
        self._lines: list[tuple[int, int, str, Style]] = []

    def put_on(
        self, canvas: Canvas, charts: Charts, gamut: Sequence[Uv], spots: Sequence[Spot], *, whole: bool
    ) -> None:
        """Lines first, then the lamps, then words where there is still room for them."""
        view = view_of(spots, whole=whole, width=canvas.width, height=canvas.height)
        for x, y, text, style in self._lines_of(charts, gamut, view, whole=whole):
            canvas.put(x, y, text, style)
        taken: set[tuple[int, int]] = set()
        for _, u, v in charts.daylight:
            column, row = view.at((u, v))
            canvas.put(int(column), int(row), "×", theme.NOW)
        for spot in sorted(spots, key=lambda spot: (not spot.chosen, not spot.lit)):
            _spot(canvas, view, spot, taken)
        for column, row, text, style in _words(charts, view, whole=whole):
            cells = {(int(column) + index, int(row)) for index in range(-1, len(text) + 1)}
            if column >= 0 and column + len(text) < canvas.width and not cells & taken:
                taken |= cells
                canvas.put(int(column), int(row), text, style)

    def _lines_of(
        self, charts: Charts, gamut: Sequence[Uv], view: View, *, whole: bool
    ) -> list[tuple[int, int, str, Style]]:
        of = self._of
        if of is None or of[0] is not charts or of[1] is not gamut or of[2] != view:
            self._of = (charts, gamut, view)
            dots = Dots(view.width, view.height)
            edge = closed(view.at((u, v)) for _, u, v in charts.spectrum)
            dots.line(edge, theme.LINE, every=1 if whole else 2)
            dots.line(closed(view.at(uv) for uv in gamut), theme.NEXT, every=3)
            dots.line([view.at((u, v)) for _, u, v in charts.planck], theme.PLAIN)
            self._lines = dots.spans()
        return self._lines


def _words(charts: Charts, view: View, *, whole: bool) -> Iterator[tuple[float, float, str, Style]]:
    """(column, row, text, style) of the labels along the lines, the most wanted first."""
    if whole:
        for nm, u, v in charts.spectrum:
            if round(nm) in (450, 480, 500, 520, 560, 580, 600, 620, 680):
                x, y = view.at((u, v))
                yield (x + 1 if u > 0.05 else x - 4), y, f"{nm:.0f}", theme.LABEL
        return
    for wanted in MARKS_K:
        found = min(charts.planck, key=lambda point: abs(point[0] - wanted), default=None)
        if found is not None and abs(found[0] - wanted) < 0.05 * wanted:
            x, y = view.at((found[1], found[2]))
            yield x + 2, y + 1, f"{wanted} K", theme.LABEL
    for cct_k, u, v in charts.daylight:
        if round(cct_k) in (5000, 5500, 6500, 7500, 10000):
            x, y = view.at((u, v))
            yield int(x) - 4, y, f"D{cct_k / 100:.0f}", theme.NOW


def _spot(canvas: Canvas, view: View, spot: Spot, taken: set[tuple[int, int]]) -> None:
    x, y = view.at(spot.uv)
    style = theme.NEXT if spot.chosen else theme.STRONG if spot.lit else theme.LABEL
    outside = not (0 <= x < canvas.width and 0 <= y < canvas.height)
    column = int(min(max(x, 0), canvas.width - 1))
    row = int(min(max(y, 0), canvas.height - 1))
    if spot.goal is not None:
        goal_x, goal_y = view.at(spot.goal)
        if (int(goal_x), int(goal_y)) != (column, row):
            canvas.put(int(goal_x), int(goal_y), "○", style)
            taken.add((int(goal_x), int(goal_y)))
    sign = "◂" if outside and column == 0 else "▸" if outside else "●"
    if (column, row) not in taken or spot.chosen:
        canvas.put(column, row, sign, style)
    taken.add((column, row))
    width = len(spot.id)
    starts = [(column + 2, row), (column - width - 1, row)]
    starts += [(column + 2, row + step) for step in (1, -1, 2, -2, 3, -3)]
    for start, line in starts:
        cells = {(start + index, line) for index in range(-1, width + 1)}
        inside = start >= 0 and start + width <= canvas.width and 0 <= line < canvas.height
        if inside and not (cells - {(column, row)}) & taken:
            taken |= cells
            canvas.put(start, line, spot.id, style)
            return
