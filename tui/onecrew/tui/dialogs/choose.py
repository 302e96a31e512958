"""A question with a few answers, each with its own key."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll

from onecrew.tui.dialogs.clickable import Clickable
from onecrew.tui.dialogs.dialog import Dialog, Words


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: its key, the word for it, and what it will do."""

    key: str
    word: str
    meaning: str
    value: str


class Choose(Dialog[str]):
    """Asks one question; the answer is a choice's value, or None where the person went back."""

    AUTO_FOCUS = ""
    DEFAULT_CSS = """
    Choose > Vertical { width: 62; padding: 1 2; }
    Choose > .wide { width: 76; }
    Choose .known { height: auto; max-height: 9; margin-bottom: 1; }
    Choose .choice { margin-bottom: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "first", "first")]

    def __init__(
        self,
        question: str,
        choices: tuple[Choice, ...],
        hint: str = "",
        back: str = "go back, nothing changes",
    ) -> None:
        """``hint``: lines to know before one chooses; ``back`` is said of Escape."""
        super().__init__()
        self.question, self.choices, self.hint, self.back = question, choices, hint, back

    def compose(self) -> ComposeResult:
        with Vertical(classes="wide" if self.hint else ""):
            yield Words(self.question, classes="question")
            if self.hint:
                with VerticalScroll(classes="known", can_focus=False):
                    yield Words(self.hint.strip("\n"), classes="hint")
            for index, choice in enumerate(self.choices):
                shown = choice.key if len(choice.key) == 1 else choice.key.capitalize()
                keys = f"{shown}, Enter" if index == 0 else shown
                line = f"{keys:<9} {choice.word}\n          {choice.meaning}"
                yield Clickable(line, partial(self.dismiss, choice.value), classes="choice")
            yield Clickable(f"Esc       {self.back}", self.action_go_back)

    def on_key(self, event: events.Key) -> None:
        for choice in self.choices:
            if choice.key in (event.character, event.key):
                event.stop()
                self.dismiss(choice.value)
                return

    def action_first(self) -> None:
        self.dismiss(self.choices[0].value)
