"""A page to read: it scrolls, and closes."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from onecrew.tui.dialogs.dialog import Dialog
from onecrew.tui.drawing.canvas import clean_lines


class Page(Dialog[None]):
    """A text on a page of its own."""

    AUTO_FOCUS = ""
    DEFAULT_CSS = """
    Page > VerticalScroll { width: 76; border: round $secondary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1,q,enter,question_mark", "go_back", "close"),
        Binding("right,space", "turn(1)", "page down"),
        Binding("left", "turn(-1)", "page up"),
    ]

    def __init__(self, text: str | Text) -> None:
        super().__init__()
        self.text = str(text)
        self._drawn = clean_lines(text) if isinstance(text, str) else text

    def compose(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(self._drawn, markup=False)
            yield Static("\n↑ ↓ scroll, ← → turn pages, Esc or F1 closes this page.", markup=False)

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_turn(self, step: int) -> None:
        """A screenful on or back; Page Down and Page Up are go and back here too."""
        scroll = self.query_one(VerticalScroll)
        scroll.scroll_relative(y=step * max(scroll.size.height - 2, 1), animate=False)
