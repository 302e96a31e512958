"""Every key of a screen, as one page."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from onecrew.tui.actions import Action
from onecrew.tui.dialogs.dialog import Dialog

CAUTION = (
    "Flashing light can trigger seizures: it is limited to under three flashes a second;",
    "warn everyone all the same.",
    "Rig nothing above people without a safety bond and somebody licensed to do it. Follow local codes.",
)


class Help(Dialog[None]):
    """The keys, grouped: this screen's first, then those of every screen."""

    AUTO_FOCUS = ""
    DEFAULT_CSS = """
    Help > VerticalScroll { width: 76; border: round $secondary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("f1,q,enter,question_mark", "go_back", "close")]

    def __init__(
        self, title: str, here: tuple[Action, ...], everywhere: tuple[Action, ...], more: str
    ) -> None:
        super().__init__()
        self.title_words, self.here, self.everywhere, self.more = title, here, everywhere, more

    def page(self) -> str:
        lines = [f"{self.title_words}: the keys here", ""]
        lines += [self._line(action) for action in self.here]
        if self.more:
            lines += ["", self.more]
        lines += ["", "On every screen", ""]
        lines += [self._line(action) for action in self.everywhere]
        lines += ["", *CAUTION, "", "↑ ↓ scroll, Esc or F1 closes this page."]
        return "\n".join(lines)

    @staticmethod
    def _line(action: Action) -> str:
        return f"{action.shown:<13} {action.words}"

    def compose(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(self.page(), markup=False)

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()
