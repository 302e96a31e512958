"""The search for a profile: type a few letters, choose with the arrows, take it with Enter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import ClassVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Input

from onecrew.tui import theme
from onecrew.tui.dialogs.dialog import Dialog
from onecrew.tui.dialogs.field import Field
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, clean, fit, put_choices, wrap
from onecrew.tui.rig.addresses import Kind, search


def _in_a_line(kind: Kind, width: int) -> str:
    """A kind in ``width`` cells. Its name gives way, never the mode: modes of one lamp stay apart."""
    over = cell_len(clean(kind.words())) - width
    if over <= 0:
        return kind.words()
    name = fit(kind.name, max(cell_len(clean(kind.name)) - over, 1))
    return replace(kind, name=name.rstrip()).words()


class Found(CanvasWidget):
    """The profiles found, the one under the cursor in full below."""

    DEFAULT_CSS = "Found { height: 15; background: $panel; }"
    ground = theme.BAR

    def draw(self, canvas: Canvas) -> None:
        asking = self.screen
        assert isinstance(asking, FindKind)
        found = asking.found()
        if not asking.kinds:
            canvas.put(0, 0, "Loading the profiles…", theme.BAR)
            return
        if not found:
            canvas.put(0, 0, "No profile matches. Esc goes back.", theme.BAR_WARN)
            wrong = [line for fault in asking.faults() for line in wrap(fault, canvas.width)]
            for y, line in enumerate(wrong, 2):
                canvas.put(0, y, line, theme.BAR)
            return
        space = canvas.height - 6
        texts = [_in_a_line(kind, canvas.width - 2) for kind in found]
        put_choices(canvas, self.window, texts, asking.chosen, space)
        kind = found[asking.chosen]
        told = [wrap(text, canvas.width) for text in ("channels: " + ", ".join(kind.channels), kind.note)]
        for y, line in enumerate((*told[0][:2], *told[1][:2]), space + 1):
            canvas.put(0, y, line, theme.BAR_LABEL)
        canvas.put(0, canvas.height - 1, "↑ ↓ choose · Enter accepts · Esc goes back", theme.BAR)


class FindKind(Dialog[Kind]):
    """Which profile and mode?"""

    DEFAULT_CSS = """
    FindKind > Vertical { width: 76; }
    FindKind Input { margin-bottom: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "up"),
        Binding("down", "move(1)", "down"),
    ]

    def __init__(self, kinds: Sequence[Kind], broken: Mapping[str, str]) -> None:
        """``broken``: by the name of a profile file that cannot be used, why."""
        super().__init__()
        self.kinds, self.broken = kinds, broken
        self.chosen = 0

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Field(placeholder="Which lamp? Type part of its name", compact=True)
            yield Found()

    def on_mount(self) -> None:
        self._renew()

    def have(self, kinds: Sequence[Kind], broken: Mapping[str, str]) -> None:
        """The profiles are known, or not yet: what is typed meanwhile waits until the line can be focused."""
        self.kinds, self.broken = kinds, broken
        if self.is_mounted:  # else on_mount shows them: the answer was quicker than the dialog
            self._renew()

    def _renew(self) -> None:
        field = self.query_one(Input)
        field.disabled = not self.kinds
        if self.kinds:
            field.focus()
        self.query_one(Found).renew()

    def found(self) -> list[Kind]:
        return search(self.kinds, self.query_one(Input).value.strip())

    def faults(self) -> list[str]:
        """What is wrong with the files whose names have what is typed."""
        typed = self.query_one(Input).value.strip().lower()
        return [why for name, why in self.broken.items() if typed in name.lower()]

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self.chosen = 0
        self.query_one(Found).renew()

    def action_move(self, step: int) -> None:
        count = len(self.found())
        if count:
            self.chosen = (self.chosen + step) % count
            self.query_one(Found).renew()

    def clicked(self, _: str, index: str) -> None:
        """A click chooses a line; one on the chosen line is Enter."""
        if int(index) == self.chosen:
            self._take()
        else:
            self.action_move(int(index) - self.chosen)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self._take()

    def _take(self) -> None:
        found = self.found()
        if found:
            self.dismiss(found[self.chosen])
