"""A list to choose from, and the keys for what can be done with the line that is chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical

from onecrew.tui import theme
from onecrew.tui.dialogs.clickable import Clickable
from onecrew.tui.dialogs.dialog import Dialog, Words
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, put_choices

DIGITS = "0123456789."
LONGEST = 8
FAULT_ROWS = 2


@dataclass(frozen=True, slots=True)
class Key:
    """What a key does with the chosen line: Textual's name of it, its name in print, words, answer."""

    key: str
    shown: str
    words: str
    answer: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what it stands for, what it says, and its number, where one may type that."""

    value: str
    text: str
    number: str = ""


class Lines(CanvasWidget):
    """The lines, as many as fit around the chosen one."""

    DEFAULT_CSS = "Lines { height: auto; background: $panel; }"
    ground = theme.BAR

    def draw(self, canvas: Canvas) -> None:
        listing = self.screen
        assert isinstance(listing, Listing)
        lines = listing.lines
        if not lines:
            canvas.put(0, 0, listing.empty, theme.BAR_LABEL)
            return
        texts = [line.text for line in lines]
        top = put_choices(canvas, self.window, texts, listing.chosen, canvas.height)
        for y, more, sign in ((0, top > 0, "▴"), (canvas.height - 1, top + canvas.height < len(lines), "▾")):
            if more:
                canvas.put(canvas.width - 1, y, sign, theme.BAR_LABEL)


class Listing(Dialog[tuple[str, str]]):
    """Arrows choose a line and a key says what to do; the answer is (what, the line's value) or None.

    The first key is the one that Enter stands for. Digits go to the line whose number begins with them; where
    no line has the number that is typed, no key does anything with another line in its place.
    """

    AUTO_FOCUS = ""
    DEFAULT_CSS = """
    Listing > Vertical { width: 70; }
    Listing.wide > Vertical { width: 116; }
    Listing .fault { color: $error; display: none; }
    Listing .fault.shown { display: block; }
    Listing .head { color: $foreground 80%; height: 1; }
    Listing .keys { margin-top: 1; height: auto; }
    """

    def __init__(
        self,
        question: str,
        lines: Sequence[Line],
        keys: Sequence[Key],
        *,
        at: str = "",
        empty: str = "",
        back: str = "go back, nothing changes",
        head: str = "",
        missing: Callable[[str], str] = "there is no {}".format,
    ) -> None:
        """``at`` is the value of the line that is chosen at first; ``empty`` is said of an empty list and
        ``back`` of Escape. ``head`` names the columns of wide lines. ``missing`` says that no line has the
        number that is typed."""
        super().__init__(classes="wide" if head else None)
        self.head = head
        self.question, self.lines, self.keys, self.empty, self.back = question, lines, keys, empty, back
        self.missing = missing
        self.chosen = next((index for index, line in enumerate(lines) if line.value == at), 0)
        self.typed = ""

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Words(self.question, classes="question")
            if self.head:
                yield Words(f"  {self.head}", classes="head")
            yield Lines()
            yield Words(classes="fault")
            with Vertical(classes="keys"):
                for key in self.keys:
                    yield Clickable(f"{key.shown:<9} {key.words}", partial(self._answer, key))
                yield Clickable(f"{'Esc':<9} {self.back}", self.action_go_back)

    def on_mount(self) -> None:
        self._fit(self.app.size.height)

    def on_resize(self, event: events.Resize) -> None:
        self._fit(event.size.height)

    def _fit(self, height: int) -> None:
        """As many lines as the window has space for below the question and above the keys."""
        fault = FAULT_ROWS if self.query_one(".fault").has_class("shown") else 0
        space = height - len(self.keys) - 7 - bool(self.head) - fault
        self.query_one(Lines).styles.height = max(min(len(self.lines), space), 1)

    def on_key(self, event: events.Key) -> None:
        key = next((key for key in self.keys if event.key in key.key.split(",")), None)
        if key is not None:
            event.stop()
            self._answer(key)
        elif event.key in ("up", "down"):
            self._move(1 if event.key == "down" else -1)
        elif event.key in ("home", "end"):
            self._move((0 if event.key == "home" else len(self.lines) - 1) - self.chosen)
        elif event.key == "backspace":
            self._type(self.typed[:-1])
        elif event.character is not None and event.character in DIGITS:
            self._type((self.typed + event.character)[:LONGEST])

    def _answer(self, key: Key) -> None:
        if self.typed and (not self.lines or self.lines[self.chosen].number != self.typed):
            self._say(f"✗ {self.missing(self.typed)}. Backspace takes a digit away.")
            return
        self.dismiss((key.answer, self.lines[self.chosen].value if self.lines else ""))

    def clicked(self, _: str, index: str) -> None:
        """A click chooses a line; one on the chosen line is Enter."""
        if int(index) == self.chosen and self.keys and not self.typed:
            self._answer(self.keys[0])
        else:
            self._move(int(index) - self.chosen)

    def _move(self, step: int) -> None:
        self._type("")
        if self.lines:
            self.chosen = (self.chosen + step) % len(self.lines)
            self.query_one(Lines).renew()

    def _type(self, typed: str) -> None:
        """Go to the line with the whole number, else to one whose number begins with what was typed."""
        if not any(line.number for line in self.lines):
            return
        self.typed = typed
        found = [index for index, line in enumerate(self.lines) if line.number.startswith(typed)]
        whole = [index for index in found if self.lines[index].number == typed]
        if typed and found:
            self.chosen = (whole or found)[0]
        self._say("" if found else f"✗ {self.missing(typed)}. Backspace takes a digit away.")
        self.query_one(Lines).renew()

    def _say(self, fault: str) -> None:
        words = self.query_one(".fault", Words)
        words.update(fault)
        words.set_class(bool(fault), "shown")
        self._fit(self.app.size.height)
