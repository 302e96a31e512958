"""The base of every screen: header, banner, body, message line, footer, keys."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import ClassVar, cast

from rich.cells import cell_len
from rich.style import Style
from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.geometry import Region
from textual.screen import Screen

from onecrew.commands.command import Command
from onecrew.commands.context import Context
from onecrew.commands.table import read_words
from onecrew.errors import Misuse
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import actions, theme, words
from onecrew.tui.actions import Action
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.dialog import Dialog, Value
from onecrew.tui.dialogs.form import Form, held_to
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit, wrap
from onecrew.tui.everywhere import EVERYWHERE, SCREENS

SMALLEST = (60, 16)
LONGEST_ENTRY = 40
LEAST_NAME = 4
"""Cells of a scene's name in the header; where there are fewer, it is left out."""


class Header(CanvasWidget):
    """Which screen this is, how to reach the others, and whether light is leaving."""

    DEFAULT_CSS = "Header { height: 1; }"
    ground = theme.BAR

    def draw(self, canvas: Canvas) -> None:
        screen = cast(BaseScreen, self.screen)
        said, well = health(screen.desk.snapshot, lost=screen.desk.lost is not None)
        worst = said.rsplit(" · ", 1)[-1]
        x = self._tabs(canvas, screen.TITLE, 0 if well else cell_len(worst) + 2)
        x = self._scene(canvas.part(0, 0, canvas.width - cell_len(worst) - 2, 1), x, screen.desk.show)
        space = canvas.width - x - 2
        if cell_len(said) > space:
            said = worst
        if cell_len(said) <= space or not well:  # trouble goes over whatever stands there
            x = canvas.put_right(0, said, theme.BAR_LABEL if well else theme.SHOUT, margin=1)
            mends = {"F4": "rig", "F6": "log"}.get(said[-2:])
            if mends is not None:
                canvas.target(x, 0, canvas.width, "action", mends)

    @staticmethod
    def _tabs(canvas: Canvas, here: str, trouble: int) -> int:
        """Each screen's key and title; the other keys alone where trouble of this width needs space."""
        wide = canvas.width >= 74
        whole = 1 + sum(cell_len(action.shown) + cell_len(action.word) + 3 for action in SCREENS)
        short = wide and whole + trouble > canvas.width
        x = 1
        for action in SCREENS:
            start, key, title = x, action.shown, action.word
            if title == here:
                x = canvas.put(x, 0, f"▸{key} {title} " if wide else f"▸{title} ", theme.CHOSEN)
            else:
                x = canvas.put(x, 0, f" {key} " if wide else " ", theme.BAR_KEY)
                x = canvas.put(x, 0, "" if short else f"{title} ", theme.BAR)
            canvas.target(start, 0, x - start, "action", action.name)
        return x

    @staticmethod
    def _scene(canvas: Canvas, x: int, show: Show | None) -> int:
        """The open scene with its key, where the show has several; only where space is left for health."""
        space = canvas.width - x - len(" F9  ")
        if show is None or not show.other_scenes or space < min(cell_len(show.scene), LEAST_NAME):
            return x
        canvas.put(x, 0, " F9 ", theme.BAR_KEY)
        name = fit(show.scene, min(cell_len(show.scene), space))
        canvas.target(x, 0, 4 + cell_len(name), "action", "scenes")
        return canvas.put(x + 4, 0, name, theme.BAR)


def health(snapshot: Snapshot | None, *, lost: bool) -> tuple[str, bool]:
    """(what is wrong in a few words, the worst last; or that all is well, and whether it is)."""
    if lost:
        return "no engine", False
    if snapshot is None:
        return "waiting", True
    said, well = words.outputs(snapshot.outputs)
    remote, standby = snapshot.remote, snapshot.standby
    wrong = [
        "phone page failing" if remote.page.state == "failing" else "",
        "OSC failing" if remote.osc.state == "failing" else "",
        "standby not heard" if standby is not None and standby.error else "",
        "no log, F6" if not snapshot.logged.ok else "",
        "not saved, F6" if not snapshot.saved.ok else "",
        "" if well else f"{said}, F4",
        "a standby is in control" if standby is not None and standby.taken_over else "",
    ]
    if any(wrong):
        return " · ".join(filter(None, wrong)), False
    return f"saved · {said}", True


class Banner(CanvasWidget):
    """One line across the screen: no engine, or a state that keeps the look from the lamps."""

    DEFAULT_CSS = "Banner { height: 1; display: none; } Banner.shown { display: block; }"
    ground = theme.SHOUT

    def adapt(self) -> None:
        self.set_class(bool(cast(BaseScreen, self.screen).banner()), "shown")

    def draw(self, canvas: Canvas) -> None:
        text = cast(BaseScreen, self.screen).banner()
        whole = cell_len(text) + 1 < canvas.width
        canvas.put(1, 0, text if whole else text.partition(" (")[0], theme.SHOUT)


class MessageLine(CanvasWidget):
    """The latest message: what was refused and why, or what has just been done."""

    DEFAULT_CSS = "MessageLine { height: 1; }"

    def said(self) -> tuple[list[str], Style]:
        """The message in as many lines as it takes."""
        desk = cast(BaseScreen, self.screen).desk
        if desk.busy:
            work = desk.busy.replace("-", " ")
            return [f"… still at work: {work}"], theme.NEXT
        text, refused = desk.message or ("", False)
        sign = "✗ " if refused else "· " if text else ""
        lines = wrap(text, max(self.size.width - 4, 1))
        return [sign + lines[0], *(f"  {line}" for line in lines[1:])], theme.WARN if refused else theme.PLAIN

    def adapt(self) -> None:
        if self.size.width:
            self.styles.height = len(self.said()[0])

    def draw(self, canvas: Canvas) -> None:
        lines, style = self.said()
        for y, line in enumerate(lines):
            canvas.put(1, y, line, style)


class Footer(CanvasWidget):
    """The keys of this screen, the most useful first; F1 is always there."""

    DEFAULT_CSS = "Footer { height: 1; }"
    ground = theme.BAR

    def draw(self, canvas: Canvas) -> None:
        screen = cast(BaseScreen, self.screen)
        shown = screen.footer_actions()
        last = " F1 all keys "
        space = canvas.width - cell_len(last)
        x = 1
        for action in shown:
            keys = action.group or action.shown
            wide = cell_len(keys) + cell_len(action.word) + 3
            if x + wide > space:
                break
            canvas.target(x, 0, wide - 1, "action", action.name)
            x = canvas.put(x, 0, keys, theme.BAR_KEY)
            x = canvas.put(x, 0, f" {action.word}  ", theme.BAR)
        canvas.target(space, 0, canvas.width, "action", "help")
        canvas.put_right(0, "F1", theme.BAR_KEY, margin=10)
        canvas.put_right(0, "all keys", theme.BAR, margin=1)


class TooSmall(CanvasWidget):
    """The one sentence that a small terminal gets."""

    DEFAULT_CSS = "TooSmall { display: none; layer: over; }"

    def draw(self, canvas: Canvas) -> None:
        width, height = SMALLEST
        sentence = (
            f"Make this window larger: onecrew needs {width} × {height} characters, and this is "
            f"{canvas.width} × {canvas.height}. The light stays, and the keys still work."
        )
        for y, line in enumerate(wrap(sentence, canvas.width - 2), max((canvas.height - 5) // 2, 0)):
            canvas.put(1, y, line, theme.STRONG)


class BaseScreen(Screen[None]):
    """A screen. Subclasses say their ``TITLE`` and ``ACTIONS``, compose a body and renew it."""

    TITLE: ClassVar[str] = ""
    TOPIC: ClassVar[str] = "screens"
    """The topic of the manual that it is about."""
    ACTIONS: ClassVar[tuple[Action, ...]] = ()
    DEFAULT_CSS = """
    BaseScreen { layers: base over; background: $background; }
    BaseScreen.too-small > * { display: none; }
    BaseScreen.too-small > TooSmall { display: block; }
    """
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init_subclass__(cls, **kwargs: object) -> None:
        cls.BINDINGS = list(actions.bindings(cls.ACTIONS, always=False))
        super().__init_subclass__(**kwargs)  # type: ignore[arg-type]

    def __init__(self) -> None:
        super().__init__()
        self._drawn: tuple[CanvasWidget, ...] = ()
        self._keys: dict[str, Action] = {}
        self.entry: str | None = None
        """The line that is being typed on the screen itself; then keys are letters, but for a clicker's."""

    @property
    def desk(self) -> Desk:
        """The app, by what it is to the screens."""
        return cast(Desk, self.app)

    def body(self) -> ComposeResult:
        """The widgets between header and message line."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        yield Header()
        yield Banner()
        yield from self.body()
        yield MessageLine()
        yield Footer()
        yield TooSmall()

    def banner(self) -> str:
        """What stands across the screen below the header; empty where all is well."""
        desk = self.desk
        if desk.lost is not None or desk.snapshot is None:
            return desk.lost or ""
        return " · ".join(f"{word}: {ends}" for word, ends in words.loud_states(desk.snapshot))

    def footer_actions(self) -> tuple[Action, ...]:
        """What the footer offers now."""
        here = sorted((action for action in self.ACTIONS if action.footer), key=lambda a: a.footer)
        return (*here, *(action for action in EVERYWHERE if action.footer))

    def all_actions(self) -> tuple[Action, ...]:
        return (*self.ACTIONS, *EVERYWHERE)

    def take_key(self, event: events.Key) -> bool:
        """Carry out what a key means here, at once; False where it means nothing."""
        if not self._keys:
            self._keys = {key: action for action in self.all_actions() for key in action.keys}
        action = self._keys.get(event.key)
        if self.entry is not None and (action is None or not action.always):
            return self._type(event)
        if action is None:
            return False
        self._carry_out(action)
        return True

    def _carry_out(self, action: Action) -> None:
        """Run it; what was said about the last one goes."""
        said = self.desk.message
        action.run(self)
        if said is not None and self.desk.message is said:
            self.desk.hush()

    def clicked(self, kind: str, value: str) -> None:
        """Something was clicked: a key in the footer does what it says, anything else is chosen."""
        if kind == "action":
            action = actions.find(self.all_actions(), value)
            if action is not None:
                self._carry_out(action)
        elif kind == "cue":
            self.desk.list_cues(value)

    # ── a line typed on the screen itself ───────────────────────────────────────────────────────

    def start_entry(self, text: str) -> None:
        self.entry = text
        self.renew()

    def _type(self, event: events.Key) -> bool:
        assert self.entry is not None
        if event.key == "enter":
            self.take_entry()
        elif event.key == "escape":
            self.entry = None
            self.entry_changed()
        elif event.key == "backspace":
            self.entry = self.entry[:-1] or None
            self.entry_changed()
        elif event.character is not None and event.character.isprintable():
            self.entry = (self.entry + event.character)[:LONGEST_ENTRY]
            self.entry_changed()
        elif event.key not in ("up", "down", "left", "right"):
            return False
        self.renew()
        return True

    def take_entry(self) -> None:
        """Enter was pressed: use the line and end it, or say what is wrong with it."""
        self.entry = None

    def entry_changed(self) -> None:
        """A letter came or went, or the line was dropped."""

    def read_as(self, before: str, after: str = "", *, needs: str = "") -> Callable[[str], Command]:
        """Reads what is typed as a part of a command in words: the grammar of the command line.

        ``needs``: what is to be typed where nothing is; the command line would say how its words begin.
        """

        def read(text: str) -> Command:
            if needs and not text.strip():
                raise Misuse(f"type {needs}")
            return read_words(f"{before}{text}{after}".split(), Context(self.desk.show))

        return read

    def send(self, command: Command, done: str = "") -> None:
        self.desk.send(command, done)

    def ask(self, dialog: Dialog[Value], then: Callable[[Value], None]) -> None:
        """Open a dialog; ``then`` has its answer, unless the person goes back."""

        def take(answer: Value | None) -> None:
            if answer is not None:
                then(answer)

        self.app.push_screen(dialog, take)

    def ask_of_scene(self, dialog: Ask[Value] | Form[Value], then: Callable[[Value], None]) -> None:
        """Ask about the open scene: another one that another window opens meanwhile is not changed by it."""
        scene = self.desk.show.scene if self.desk.show is not None else ""

        def elsewhere() -> str:
            now = self.desk.show.scene if self.desk.show is not None else scene
            return "" if now == scene else f"the scene {now} is open by now, and this is about {scene}"

        self.ask(held_to(dialog, elsewhere), then)

    def action_act(self, name: str) -> None:
        action = actions.find(self.all_actions(), name)
        if action is not None:
            action.run(self)

    def renew(self) -> None:
        """Draw what changed."""
        for _ in self.renew_by_parts():
            pass

    def renew_by_parts(self) -> Iterator[None]:
        """The same, with stops in which other work can be done, such as a key's."""
        if not self._drawn:
            self._drawn = tuple(self.query(CanvasWidget))
        changes: list[tuple[CanvasWidget, list[Region]]] = [(drawn, []) for drawn in self._drawn]
        for drawn, changed in changes:
            yield from drawn.draw_again(changed)
        for drawn, changed in changes:  # together: each repainting by itself would cost more
            if changed:
                drawn.refresh(*changed)

    def on_resize(self, event: events.Resize) -> None:
        small = event.size.width < SMALLEST[0] or event.size.height < SMALLEST[1]
        self.set_class(small, "too-small")

    def on_screen_resume(self) -> None:
        self.renew()

    def more_entries(self) -> Iterable[tuple[str, Callable[[], None]]]:
        """What else this screen puts into the palette: (what it is called, what it does)."""
        return ()

    def more_help(self) -> str:
        """A paragraph of this screen's own for the help page."""
        return ""
