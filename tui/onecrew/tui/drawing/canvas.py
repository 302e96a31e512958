"""Canvas: what a live pane draws on, and the widget that shows it at 10–20 Hz without lagging the keys.

Panes are plain functions that put text on a canvas. A row is a list of spans; a row whose spans did not
change since the last drawing keeps its strip, and only changed rows are repainted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.cells import cell_len, chop_cells, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.filter import ANSIToTruecolor
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from onecrew.terminal import acts
from onecrew.tui import theme

Span = tuple[int, str, Style]
Target = tuple[str, str]
"""What a click means: a kind of thing (lamp, cue, screen, action, …) and which one."""


LINE = "line"
"""The kind of target that is a line of a list."""
WHEEL = 3
"""Lines that one step of the wheel moves a list by."""
AT_A_TIME = 8
"""Rows that are made ready at a stretch."""


def clean(text: str) -> str:
    """Text from documents and the network, with nothing in it that a terminal would obey."""
    return text if text.isprintable() else "".join("·" if acts(char) else char for char in text)


def clean_lines(text: str) -> str:
    """The same for text of several lines."""
    return "\n".join(map(clean, text.split("\n")))


def fit(text: str, width: int) -> str:
    """Exactly ``width`` cells: padded, or cut with an ellipsis."""
    if width <= 0:
        return ""
    text = clean(text)
    if cell_len(text) > width:
        text = set_cell_size(text, width - 1) + "…"
    return set_cell_size(text, width)


def fit_ends(text: str, width: int) -> str:
    """Exactly ``width`` cells: padded, or cut in the middle, for names that end in what tells them apart.

    >>> fit_ends("By the oven, from the left/2", 13)
    'By the…left/2'
    """
    text = clean(text)
    if cell_len(text) > width > 0:
        head = set_cell_size(text, (width - 1) // 2).rstrip()
        text = f"{head}…{set_cell_size(text[::-1], width - 1 - cell_len(head))[::-1].lstrip()}"
    return fit(text, width)


def wrap(text: str, width: int) -> list[str]:
    """The text in lines of at most ``width`` cells, broken between words; a longer word, such as a path, goes
    on in the next line."""
    lines = [""]
    for word in clean(text).split(" "):
        if lines[-1] and cell_len(lines[-1]) + 1 + cell_len(word) > width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}" if lines[-1] else word
        if cell_len(lines[-1]) > width > 1:
            lines[-1:] = chop_cells(lines[-1], width)
    return [fit(line, width).rstrip() for line in lines]


class Canvas:
    """A grid to put text on. Positions outside are cut away, never an error."""

    def __init__(self, width: int, height: int) -> None:
        self.width = max(width, 0)
        self.height = max(height, 0)
        self._x = self._y = 0
        self._rows: list[list[Span]] = [[] for _ in range(self.height)]
        self._ends = [0] * self.height
        self.targets: list[tuple[int, int, int, Target]] = []
        """(row, first column, the column after it, what a click there means)."""

    def part(self, x: int, y: int, width: int, height: int) -> Canvas:
        """A window onto this canvas with its own origin and bounds."""
        x, y = max(x, 0), max(y, 0)
        window = Canvas(min(width, self.width - x), 0)
        window.height = max(min(height, self.height - y), 0)
        window._x, window._y = self._x + x, self._y + y
        window._rows, window._ends, window.targets = self._rows, self._ends, self.targets
        return window

    def put(self, x: int, y: int, text: str, style: Style = theme.PLAIN) -> int:
        """Write one line of text; returns the column after it."""
        text = clean(text)
        end = x + cell_len(text)
        if 0 <= y < self.height and x < self.width and text:
            if x < 0:
                text, x = text[-x:], 0
            if end > self.width:
                text = set_cell_size(text, self.width - x)
            if text:
                self._put(self._x + x, self._y + y, text, style)
        return end

    def _put(self, x: int, y: int, text: str, style: Style) -> None:
        end = x + cell_len(text)
        if x < self._ends[y]:
            self._rows[y] = [piece for span in self._rows[y] for piece in _around(span, x, end)]
        self._rows[y].append((x, text, style))
        self._ends[y] = max(self._ends[y], end)

    def put_right(self, y: int, text: str, style: Style = theme.PLAIN, margin: int = 0) -> int:
        """Write one line of text against the right edge; returns its first column."""
        x = self.width - margin - cell_len(clean(text))
        self.put(x, y, text, style)
        return x

    def target(self, x: int, y: int, width: int, kind: str, value: str) -> None:
        """A click on these cells means this."""
        start, end = max(x, 0), min(x + width, self.width)
        if 0 <= y < self.height and start < end:
            self.targets.append((self._y + y, self._x + start, self._x + end, (kind, value)))

    def rule(self, y: int, style: Style = theme.LINE, sign: str = "─") -> None:
        self.put(0, y, sign * self.width, style)

    def rows(self) -> list[list[Span]]:
        return self._rows


def _around(span: Span, x: int, end: int) -> list[Span]:
    """What is left of a span when something is put over it from ``x`` to ``end``."""
    at, text, style = span
    stop = at + cell_len(text)
    if stop <= x or at >= end:
        return [span]
    left = [(at, set_cell_size(text, x - at), style)] if at < x else []
    right = [(end, text[len(set_cell_size(text, end - at)) :], style)] if stop > end else []
    return left + right


class Row(Strip):
    """A row of a canvas. Textual's strip would keep itself in its own cache, and wait for the collector with
    all its spans once it is replaced."""

    __slots__ = ()

    def divide(self, cuts: Iterable[int]) -> Sequence[Strip]:
        cuts = list(cuts)
        return [self] if cuts == [self.cell_length] else super().divide(cuts)


def _row(spans: list[Span], width: int, ground: Style, *, bright: bool = False) -> Strip:
    if bright:
        ground = theme.in_bright_room(ground)
        spans = [(x, text, theme.in_bright_room(style)) for x, text, style in spans]
    segments: list[Segment] = []
    at = 0
    for x, text, style in sorted(spans, key=lambda span: span[0]):
        if x > at:
            segments.append(Segment(" " * (x - at), ground))
        segments.append(Segment(text, style))
        at = x + cell_len(text)
    if at < width:
        segments.append(Segment(" " * (width - at), ground))
    return Row(segments, max(at, width)).adjust_cell_length(width, ground)


def _between(before: list[Span], after: list[Span], y: int) -> Region:
    """The part of a row in which its spans differ."""
    other = set(before).symmetric_difference(after)
    start = min(x for x, _, _ in other) if other else 0
    end = max(x + cell_len(text) for x, text, _ in other) if other else 1
    return Region(start, y, end - start, 1)


class Window:
    """The part of a list that shows: it follows the cursor, and the wheel moves it."""

    def __init__(self) -> None:
        self.top = 0
        self._followed = (-1, -1)

    def first(self, cursor: int, space: int, count: int) -> int:
        """Index of the first line that shows, where ``space`` of ``count`` lines do."""
        if self._followed != (cursor, space):
            self._followed = (cursor, space)
            self.top = min(max(self.top, cursor - space + 1), cursor)
        self.top = max(min(self.top, count - space), 0)
        return self.top


def put_choices(canvas: Canvas, window: Window, texts: Sequence[str], chosen: int, space: int) -> int:
    """Draw the lines to choose from that ``space`` rows show; return the index of the first of them."""
    top = window.first(chosen, space, len(texts))
    for y, text in enumerate(texts[top : top + space]):
        here = top + y == chosen
        line = fit(f"{'▸' if here else ' '} {text}", canvas.width)
        canvas.put(0, y, line, theme.CHOSEN if here else theme.BAR)
        canvas.target(0, y, canvas.width, LINE, str(top + y))
    return top


class CanvasWidget(Widget):
    """A widget that draws itself on a canvas. Subclasses write ``draw``; ``renew`` repaints what changed."""

    DEFAULT_CSS = "CanvasWidget { width: 1fr; height: 1fr; }"
    ground = theme.GROUND

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._spans: list[list[Span]] = []
        self._strips: list[Strip] = []
        self._drawn_as: tuple[int, int, bool] | None = None
        self._begun = self._shown = 0
        """The numbers of the drawing that was begun last, and of the one that shows."""
        self._targets: list[tuple[int, int, int, Target]] = []
        self.window = Window()
        self._was_clicked = False

    def draw(self, canvas: Canvas) -> None:
        """Put everything there is to see on an empty canvas."""
        raise NotImplementedError

    def draw_by_parts(self, canvas: Canvas) -> Iterator[None]:
        """The same, with a stop wherever half a millisecond has gone by or so, for what takes longer."""
        self.draw(canvas)
        yield

    def adapt(self) -> None:
        """Take the size that what is to be drawn needs, where that is not always the same."""

    def renew(self) -> None:
        """Draw again and repaint the rows that changed."""
        changed: list[Region] = []
        for _ in self.draw_again(changed):
            pass
        if changed:
            self.refresh(*changed)

    def draw_again(self, changed: list[Region]) -> Iterator[None]:
        """Draw again by parts, and add what is to be repainted then to ``changed``.

        Other work can be done at each stop, such as a key's; it may draw this, too.
        """
        if self.is_mounted:
            self.adapt()
            if self.size.width and self.size.height:
                yield from self._draw_rows(changed)
            else:
                self._drawn_as = None  # hidden: what was drawn before is old when it shows again

    def _now(self) -> tuple[int, int, bool]:
        """How it is to be drawn: columns, rows, and whether for a bright room."""
        return *self.size, self.app.theme == theme.BRIGHT

    def _draw_now(self) -> None:
        if self._drawn_as != self._now():
            for _ in self._draw_rows([]):
                pass

    def _draw_rows(self, changed: list[Region]) -> Iterator[None]:
        self._begun += 1
        number = self._begun
        width, height, bright = now = self._now()
        canvas = Canvas(width, height)
        yield from self.draw_by_parts(canvas)
        rows, before = canvas.rows(), self._spans
        old, strips = (before, self._strips) if self._drawn_as == now else ([], [])
        fresh: list[Strip] = []
        regions: list[Region] = []
        for y, spans in enumerate(rows):
            if y < len(old) and old[y] == spans:
                fresh.append(strips[y])
            else:
                fresh.append(_row(spans, width, self.ground, bright=bright))
                regions.append(_between(old[y], spans, y) if y < len(old) else Region(0, y, width, 1))
                if len(regions) % AT_A_TIME == 0:
                    yield
        if number < self._shown or now != self._now():
            return  # what was drawn meanwhile is later than this
        changed += regions if self._spans is before else [Region(0, 0, width, height)]
        self._spans, self._strips, self._drawn_as = rows, fresh, now
        self._shown, self._targets = number, canvas.targets

    def render_line(self, y: int) -> Strip:
        self._draw_now()
        return self._strips[y] if y < len(self._strips) else _row([], self.size.width, self.ground)

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows as they were drawn: nothing lies around or over them that Textual would have to add."""
        if self.outer_size != self.size:
            return super().render_lines(crop)
        self._draw_now()
        strips = self._strips[crop.y : crop.bottom]
        for change in self.get_line_filters():
            if not isinstance(change, ANSIToTruecolor):  # the styles have nothing else
                strips = [strip.apply_filter(change, self.background_colors[1]) for strip in strips]
        if crop.column_span != (0, self.size.width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    # ── the mouse ───────────────────────────────────────────────────────────────────────────────

    def target_at(self, x: int, y: int) -> Target | None:
        """What a click there means; what was drawn last lies on top."""
        found = (what for row, start, end, what in reversed(self._targets) if row == y and start <= x < end)
        return next(found, None)

    def on_click(self, event: events.Click) -> None:
        """One click, one thing: the second half of a double click counts on a line of a list alone, and only
        where the first half was on that list; it must not answer what the first one opened."""
        event.stop()
        once = event.chain == 1
        self._was_clicked |= once
        target = self.target_at(event.x, event.y)
        if target is not None and event.button == 1 and (once or (target[0] == LINE and self._was_clicked)):
            self.clicked(*target)

    def clicked(self, kind: str, value: str) -> None:
        """A target was clicked: the screen knows what that means."""
        clicked = getattr(self.screen, "clicked", None)
        if clicked is not None:
            clicked(kind, value)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.scroll_lines(WHEEL)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.scroll_lines(-WHEEL)

    def scroll_lines(self, lines: int) -> None:
        """The wheel was turned: the list moves, the cursor and the light stay."""
        self.window.top += lines
        self.renew()

    def text(self) -> str:
        """What stands on it, as plain text (for tests and screen readers' logs)."""
        self._draw_now()
        return "\n".join(strip.text.rstrip() for strip in self._strips)
