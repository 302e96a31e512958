"""A line to type into, with the reason when what was typed cannot be used."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from onecrew.tui.dialogs.dialog import Dialog, Value, Words
from onecrew.tui.dialogs.field import Field
from onecrew.tui.drawing.canvas import clean


class Ask(Dialog[Value]):
    """Asks for one line; ``read`` turns it into a value or raises ``ValueError`` with a sentence."""

    DEFAULT_CSS = """
    Ask > VerticalScroll { width: 66; padding: 1 2; }
    Ask .question { margin-bottom: 0; }
    Ask .fault { color: $error; }
    Ask Input { margin: 1 0; }
    """

    def __init__(self, question: str, hint: str, read: Callable[[str], Value], value: str = "") -> None:
        super().__init__()
        self.question, self.hint, self.read, self.value = question, hint, read, value

    def compose(self) -> ComposeResult:
        with VerticalScroll(can_focus=False):
            yield Words(self.question, classes="question")
            yield Words(self.hint, classes="hint")
            yield Field(clean(self.value))
            yield Words("", classes="fault")
            yield Words("Enter accepts · Esc goes back", classes="hint")

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            value = self.read(event.value.strip())
        except ValueError as error:
            fault = self.query_one(".fault", Static)
            fault.update(f"✗ {error}")
            self.call_after_refresh(fault.scroll_visible, animate=False)
        else:
            self.dismiss(value)
