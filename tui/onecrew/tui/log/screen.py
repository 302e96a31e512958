"""The Log screen: what happened, newest at the bottom, with a filter and notes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, cast

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult

from onecrew.commands.command import Command
from onecrew.tui import takes, theme, versions
from onecrew.tui.actions import Action, calls
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit, fit_ends, wrap
from onecrew.tui.everywhere import usual
from onecrew.tui.log.lines import Lines, LogLine

ASK_EVERY_S = 1.0
TEXT_AT = 19
"""Column at which what a line says begins."""
STYLES = {
    "take": theme.NOW,
    "cue": theme.NEXT,
    "note": theme.STRONG,
    "match": theme.NEXT,
    "output": theme.WARN,
    "engine": theme.LABEL,
}

LOG: tuple[Action, ...] = (
    Action("earlier", ("up",), "↑", "earlier", "One line earlier", calls("scroll_by", -1)),
    Action("later", ("down",), "↓", "later", "One line later", calls("scroll_by", 1)),
    Action("page-earlier", ("left",), "←", "page", "A page earlier", calls("scroll_page", -1)),
    Action("page-later", ("right",), "→", "page", "A page later", calls("scroll_page", 1)),
    Action("first", ("home",), "Home", "first", "The first line", calls("scroll_by", -(10**6))),
    Action("newest", ("end",), "End", "newest", "The newest line, and follow it",
           calls("scroll_by", 10**6), 5),
    Action("filter", ("slash",), "/", "filter", "Show only lines with these words",
           calls("start_filter"), 1),
    Action("takes", ("k",), "k", "takes", "Takes: look sheet, good or bad, restore, breakdown, exports",
           takes.ask, 2),
    Action("versions", ("asterisk",), "*", "versions", "Versions of the show: look at one, bring one back",
           versions.ask, 6),
    Action("note-take", ("n",), "n", "note", "Write a note on the last take",
           calls("ask_note", True), 3),
    Action("note-log", ("N",), "Shift+N", "log note", "Write a note into the log",
           calls("ask_note", False), 4),
    *usual(),
)  # fmt: skip


class LogBody(CanvasWidget):
    """Head, lines, filter."""

    def draw(self, canvas: Canvas) -> None:
        screen = cast("Log", self.screen)
        shown = screen.shown()
        space = self.space
        self._head(canvas, screen, shown)
        if not shown:
            said = (
                "No line has all these words: Esc shows every line."
                if screen.filter
                else "Nothing logged yet."
            )
            canvas.put(1, 2, said, theme.LABEL)
        end = len(shown) - screen.back
        y = 1
        for at in range(end - self.fitting(shown, range(end - 1, -1, -1)), end):
            line = shown[at]
            canvas.put(1, y, line.clock(), theme.LABEL)
            canvas.put(10, y, fit(line.kind, 8), STYLES.get(line.kind, theme.LABEL))
            style = theme.STRONG if line.kind in ("take", "note") else theme.PLAIN
            for piece in self._rows(shown, at)[: space + 1 - y]:
                canvas.put(TEXT_AT, y, piece, style)
                y += 1
        if screen.entry is not None:
            x = canvas.put(1, canvas.height - 1, "filter: ", theme.NEXT)
            x = canvas.put(x, canvas.height - 1, f"{screen.entry}▏", theme.STRONG)
            canvas.put(x + 2, canvas.height - 1, "Enter keeps it · Esc shows every line", theme.LABEL)

    def _rows(self, shown: list[LogLine], at: int) -> list[str]:
        """What a line says, in as many rows as it takes; with its day where that is another than before."""
        line = shown[at]
        said = line.text if not at or line.day() == shown[at - 1].day() else f"{line.text} · {line.day()}"
        return wrap(said, self.size.width - TEXT_AT - 1)

    def fitting(self, shown: list[LogLine], these: Iterable[int]) -> int:
        """How many of these lines fit, at least one where there is any."""
        count = rows = 0
        for at in these:
            rows += len(self._rows(shown, at))
            if count and rows > self.space:
                break
            count += 1
        return count

    def scroll_lines(self, lines: int) -> None:
        cast("Log", self.screen).scroll_by(lines)

    @property
    def space(self) -> int:
        return max(self.size.height - 2, 1)

    def _head(self, canvas: Canvas, screen: Log, shown: list[LogLine]) -> None:
        take = screen.desk.snapshot.take if screen.desk.snapshot is not None else None
        x = canvas.put(1, 0, "LOG", theme.STRONG)
        said = f"{len(shown)} lines"
        if screen.filter:
            said = f"{len(shown)} of {len(screen.lines)} lines with: {screen.filter}"
        if screen.back:
            said += f" · {screen.back} newer below, End"
        end = canvas.put_right(0, said, theme.LABEL, margin=1)
        if take is not None:
            before = f"take {take.number} of setup "
            after = ", rolling" if take.running else ", last"
            space = end - x - 4 - len(before) - len(after)
            setup = fit_ends(take.setup, min(cell_len(take.setup), space)).rstrip()
            canvas.put(x + 2, 0, f"{before}{setup}{after}", theme.NOW)


class Log(BaseScreen):
    """Takes, cues, changes, notes and faults, as the engine writes them down."""

    TITLE = "Log"
    TOPIC = "record"
    ACTIONS: ClassVar[tuple[Action, ...]] = LOG

    def __init__(self) -> None:
        super().__init__()
        self.lines = Lines()
        self.filter = ""
        self.back = 0
        """How many lines of those shown lie below the window; 0 follows the newest."""

    def body(self) -> ComposeResult:
        yield LogBody()

    def on_mount(self) -> None:
        self.set_interval(ASK_EVERY_S, self.ask_news)
        self.ask_news()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        self.ask_news()

    def ask_news(self) -> None:
        if self.is_current and self.desk.lost is None:
            self.desk.fetch("log", self._have, quiet=True, after=self.lines.last, limit=500)

    def _have(self, answer: dict[str, Any]) -> None:
        before = len(self.shown())
        if self.lines.take(answer):
            if self.back:  # stay on the lines that are being read
                self.back += len(self.shown()) - before
            self.renew()

    def shown(self) -> list[LogLine]:
        return self.lines.matching(self.filter)

    def scroll_by(self, step: int) -> None:
        shown = self.shown()
        most = len(shown) - self.query_one(LogBody).fitting(shown, range(len(shown)))
        self.back = min(max(self.back - step, 0), most)
        self.renew()

    def scroll_page(self, step: int) -> None:
        shown = self.shown()
        end = len(shown) - self.back
        these = range(end - 1, -1, -1) if step < 0 else range(end, len(shown))
        self.scroll_by(step * self.query_one(LogBody).fitting(shown, these))

    # ── filter ──────────────────────────────────────────────────────────────────────────────────

    def start_filter(self) -> None:
        self.start_entry(self.filter)

    def entry_changed(self) -> None:
        self.filter = self.entry or ""
        self.back = 0

    def take_key(self, event: events.Key) -> bool:
        """Escape shows all again."""
        if super().take_key(event):
            return True
        if event.key != "escape" or not self.filter:
            return False
        self.entry_changed()
        self.renew()
        return True

    # ── notes ───────────────────────────────────────────────────────────────────────────────────

    def ask_note(self, on_take: bool) -> None:
        def take(command: Command) -> None:
            self.send(command, "Note written.")
            self.ask_news()

        question = "Note on the last take" if on_take else "Note for the log"
        read = self.read_as("take note " if on_take else "note ", needs="a note")
        self.ask(Ask(question, "It goes into the log with the time.", read), take)
