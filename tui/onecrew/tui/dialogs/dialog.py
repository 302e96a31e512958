"""What every dialog shares: where it stands, its frame, and Escape."""

from __future__ import annotations

from typing import ClassVar, Generic, TypeVar

from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen, Screen
from textual.visual import VisualType
from textual.widgets import Static

from onecrew.tui.drawing.canvas import clean_lines

Value = TypeVar("Value")


class Words(Static):
    """Text of a dialog, with nothing in it that a terminal would obey: names come from documents too."""

    def __init__(self, text: str = "", *, classes: str | None = None) -> None:
        super().__init__(clean_lines(text), classes=classes, markup=False)

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        super().update(clean_lines(content) if isinstance(content, str) else content, layout=layout)


class SingleAnswerScreen(Screen[Value]):
    """Closes once. A second Enter or click that was on its way would be carried out again, and would close
    whatever is open by then."""

    answered = False

    def dismiss(self, result: Value | None = None) -> AwaitComplete:
        if self.answered:
            return AwaitComplete()
        self.answered = True
        return super().dismiss(result)


class Dialog(ModalScreen[Value | None], SingleAnswerScreen[Value | None], Generic[Value]):
    """A frame over the screen; its answer is a value, or None where the person went back."""

    DEFAULT_CSS = """
    Dialog { align: center middle; background: $background 60%; }
    Dialog > Vertical, Dialog > VerticalScroll {
        max-width: 100%; height: auto; max-height: 100%;
        background: $panel; border: round $primary; padding: 0 2;
    }
    Dialog .question { text-style: bold; margin-bottom: 1; }
    Dialog .hint { color: $foreground 80%; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "go_back", "back")]

    def action_go_back(self) -> None:
        self.dismiss(None)
