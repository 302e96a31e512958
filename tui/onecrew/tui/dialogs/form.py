"""A form: a few lines to fill in, checked while typing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Input, Static

from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.dialog import Dialog, Value, Words
from onecrew.tui.dialogs.field import Field
from onecrew.tui.drawing.canvas import clean

Of = TypeVar("Of")
Asking = TypeVar("Asking", bound="Ask[Any] | Form[Any]")


def following(now: Callable[[], Of | None], form_of: Callable[[Of], Form[Value]], gone: str) -> Form[Value]:
    """A form of something that another window may change while it is open.

    Only what was typed here is changed in it, as it is by then: the rest of it stays as the other window left
    it. ``form_of`` makes the form of what ``now`` has; ``gone`` is said once it has nothing.
    """
    at_first = now()
    if at_first is None:
        raise ValueError(gone)
    first = form_of(at_first)
    shown = {label: clean(text).strip() for label, text in first.fields.items()}

    def read(texts: dict[str, str]) -> Value:
        present = now()
        if present is None:
            raise ValueError(gone)
        form = first if present == at_first else form_of(present)
        changed = {label: text for label, text in texts.items() if text != shown[label]}
        return form.read({**form.fields, **changed})

    return Form(first.question, first.fields, read, first.hint, first.moved, first.hints)


def gone(name: str) -> str:
    return f"{name} is not there any more"


def held_to(dialog: Asking, fault: Callable[[], str]) -> Asking:
    """The same dialog; while ``fault`` has a sentence, Enter is answered by it and what was typed stays."""
    read = dialog.read

    def checked(typed: Any) -> Any:
        wrong = fault()
        if wrong:
            raise ValueError(wrong)
        return read(typed)

    dialog.read = checked
    return dialog


class Form(Dialog[Value]):
    """Asks for several things at once; ``read`` makes a value of the texts or raises ``ValueError``."""

    DEFAULT_CSS = """
    Form > VerticalScroll { width: 74; }
    Form Horizontal { height: 1; }
    Form .label { width: 18; }
    Form Input { border: none; height: 1; width: 1fr; padding: 0; background: $background; }
    Form Input:focus { border: none; background: $background; text-style: underline; }
    Form .fault { height: auto; min-height: 2; margin-top: 1; }
    Form .of-field { height: 4; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "app.focus_previous", "up"),
        Binding("down", "app.focus_next", "down"),
    ]

    def __init__(
        self,
        question: str,
        fields: dict[str, str],
        read: Callable[[dict[str, str]], Value],
        hint: str = "",
        moved: Callable[[str, dict[str, str]], dict[str, str]] | None = None,
        hints: Mapping[str, str] | None = None,
    ) -> None:
        """``fields`` maps labels to first texts; ``moved(label, texts)`` may fill other fields in.

        ``hints`` are said of the field, by its label, that is being typed in.
        """
        super().__init__()
        self.question, self.fields, self.read, self.hint, self.moved = question, fields, read, hint, moved
        self.hints = hints or {}

    def compose(self) -> ComposeResult:
        with VerticalScroll(can_focus=False):
            yield Words(self.question, classes="question")
            for index, (label, text) in enumerate(self.fields.items()):
                with Horizontal():
                    yield Words(label, classes="label")
                    yield Field(clean(text), id=f"field-{index}", compact=True)
            yield Words("", classes="fault")
            if self.hint:
                yield Words(self.hint, classes="hint")
            yield Words("Tab next line · Enter accepts · Esc goes back", classes="hint")
            if self.hints:
                yield Words("", classes="hint of-field")

    def on_mount(self) -> None:
        self.query(Input).first().focus()
        self._check()

    def texts(self) -> dict[str, str]:
        return {
            label: self.query_one(f"#field-{index}", Input).value.strip()
            for index, label in enumerate(self.fields)
        }

    def _check(self) -> None:
        try:
            self.read(self.texts())
        except ValueError as error:
            self.query_one(".fault", Static).update(f"✗ {error}")
        else:
            self.query_one(".fault", Static).update("✓ ready")

    def on_descendant_focus(self) -> None:
        if self.hints and isinstance(self.focused, Input):
            self.query_one(".of-field", Static).update(self.hints.get(self._label_of(self.focused), ""))

    def _label_of(self, field: Input) -> str:
        return list(self.fields)[int(str(field.id).removeprefix("field-"))]

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        label = self._label_of(event.input)
        if self.moved is not None and event.input.has_focus:
            for other, text in self.moved(label, self.texts()).items():
                self.query_one(f"#field-{list(self.fields).index(other)}", Input).value = text
        self._check()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            value = self.read(self.texts())
        except ValueError:
            self._check()
            self.query_one(".fault", Static).scroll_visible(animate=False)
        else:
            self.dismiss(value)
