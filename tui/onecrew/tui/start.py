"""The start screen: the shows opened last, a new one, the demo, or one by its path."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from onecrew.tui import theme
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.form import Form
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.signals import run_until_ended

KEYS = (
    Key("enter", "Enter", "open the show that is chosen", "recent"),
    Key("n", "n", "new show", "new"),
    Key("d", "d", "demo: an example show, no lamps needed", "demo"),
    Key("o", "o", "open a show by its path", "path"),
    Key("q,ctrl+c,ctrl+q", "q", "quit", "quit"),
)


@dataclass(frozen=True, slots=True)
class Shows:
    """What the start screen needs of the files: the shows opened last, and how a path is checked.

    ``existing(path)`` gives the show there and ``new(name, path, make)`` the place of a new one, made if
    ``make``; both raise ``ValueError`` with a sentence.
    """

    recent: tuple[Path, ...]
    existing: Callable[[str], Path]
    new: Callable[[str, str, bool], Path]


@dataclass(frozen=True, slots=True)
class Chosen:
    """``what`` is open, new or demo; ``path`` is empty for the demo."""

    what: str
    path: str = ""


class StartApp(App[Chosen | None]):
    """Asks which show, and ends with the answer; None where nothing was chosen."""

    TITLE = "onecrew"
    CSS = "Screen { background: $background; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+t", "turn_theme", "bright room")]

    def __init__(self, shows: Shows, colours: theme.Remembered = theme.ON_SET) -> None:
        super().__init__()
        self.shows, self.colours = shows, colours
        theme.dress(self, colours.name)

    def on_mount(self) -> None:
        self._ask()

    def action_turn_theme(self) -> None:
        self.colours.turn(self)

    def _ask(self) -> None:
        lines = [Line(str(path), f"{path.name} · {_short(path.parent)}") for path in self.shows.recent]
        empty = "No show was opened yet: n makes one, d opens the demo."
        listing = Listing("onecrew: which show?", lines, KEYS, empty=empty, back="quit")
        self.push_screen(listing, self._answered)

    def _answered(self, answer: tuple[str, str] | None) -> None:
        what, path = answer or ("quit", "")
        if what == "quit":
            self.exit(None)
        elif what == "demo":
            self.exit(Chosen("demo"))
        elif what == "new":
            self._ask_new()
        else:
            self._ask_path(path, at_once=what == "recent" and bool(path))

    def _ask_path(self, path: str, *, at_once: bool) -> None:
        """Open the show there, or ask for another path and say what is wrong with this one."""
        if at_once:
            try:
                self.exit(Chosen("open", str(self.shows.existing(path))))
            except ValueError:
                at_once = False
            else:
                return
        question, hint = "Open which show?", "The path of its file, as ~/shows/kitchen.json."
        self.push_screen(Ask(question, hint, self.shows.existing, path), self._path_given)

    def _path_given(self, path: Path | None) -> None:
        if path is None:
            self._ask()
        else:
            self.exit(Chosen("open", str(path)))

    def _ask_new(self) -> None:
        def read(texts: dict[str, str]) -> tuple[str, str]:
            if not texts["file"]:
                raise ValueError("type where its file goes, as kitchen.json")
            self.shows.new(texts["name"], texts["file"], False)
            return texts["name"], texts["file"]

        def moved(label: str, texts: dict[str, str]) -> dict[str, str]:
            return {"file": _file_name(texts["name"])} if label == "name" else {}

        hint = f"The file goes into {_short(Path.cwd())} unless its path says otherwise."
        form = Form("New show", {"name": "New show", "file": _file_name("New show")}, read, hint, moved)
        self.push_screen(form, self._new_given)

    def _new_given(self, given: tuple[str, str] | None) -> None:
        if given is None:
            self._ask()
            return
        try:
            self.exit(Chosen("new", str(self.shows.new(*given, True))))
        except ValueError:  # the disk has filled meanwhile: the form says why
            self._ask_new()


def _file_name(name: str) -> str:
    """A file name of small letters, digits and dashes.

    >>> _file_name("Kitchen, night")
    'kitchen-night.json'
    """
    plain = re.sub(r"[^\w]+", "-", name.lower()).strip("-")
    return f"{plain or 'show'}.json"


def _short(folder: Path) -> str:
    """A folder with the person's own as ~."""
    try:
        return f"~/{folder.relative_to(Path.home())}".removesuffix("/.")
    except (ValueError, RuntimeError):
        return str(folder)


def start(shows: Shows, colours: theme.Remembered) -> Chosen | None:
    """Show the start screen; returns what was chosen."""
    return asyncio.run(run_until_ended(StartApp(shows, colours)))
