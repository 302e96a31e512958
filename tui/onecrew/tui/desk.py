"""The desk as the screens see it: the latest state, commands, questions, messages, the cursor."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

from onecrew.commands.command import Command
from onecrew.show.show import Fixture, Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui.actions import Action

Receiver = Callable[[], Sequence[Any]]
"""What a receiver sees now: one object per lamp with id, level, xy, cct_k and maybe a swatch."""


@dataclass(slots=True)
class Cursor:
    """Which lamp the cursor is on: its id, and its last index, for when it is deleted."""

    id: str = ""
    at: int = 0

    def index(self, fixtures: Sequence[Fixture]) -> int:
        found = next((index for index, fixture in enumerate(fixtures) if fixture.id == self.id), None)
        if found is not None:
            self.at = found
        return max(min(self.at, len(fixtures) - 1), 0)


@runtime_checkable
class TakesClicker(Protocol):
    """A dialog that the clicker belongs to while it is open."""

    def clicked(self, name: str) -> None:
        """``go`` or ``back`` was pressed."""
        ...


class Desk(Protocol):
    """What a screen needs of the app; the app is one."""

    cursor: Cursor
    receiver: Receiver | None
    """In the demo, what the virtual room sees."""
    lost: str | None
    """Why there is no engine now."""
    message: tuple[str, bool] | None
    """The latest message, and whether it is a refusal."""
    busy: str
    """What is taking long."""
    first_run: bool
    """The show is new and was opened from the start screen: each step says the next."""
    links: int
    """How often the engine has come back."""

    @property
    def snapshot(self) -> Snapshot | None: ...
    @property
    def snapshot_now(self) -> Snapshot | None: ...
    @property
    def show(self) -> Show | None: ...

    def send(self, command: Command, done: str = "") -> None: ...
    def fetch(
        self,
        topic: str,
        then: Callable[[dict[str, Any]], None],
        *,
        quiet: bool = False,
        opens: bool = False,
        refused: Callable[[str], None] | None = None,
        **arguments: Any,
    ) -> None: ...
    def open_file(self, file: Path, what: str) -> None: ...
    def say(self, text: str, *, refused: bool = False) -> None: ...
    def hush(self) -> None: ...
    def repaint(self) -> None: ...
    def wall(self) -> float: ...
    def clock(self) -> float: ...
    def turn_to(self, mode: str) -> None: ...
    def screens(self) -> Iterable[tuple[str, str, tuple[Action, ...]]]:
        """Every screen: the name to open it by, its title, its actions."""
        ...

    def do_on(self, mode: str, run: Callable[[Any], None]) -> None:
        """Open a screen and carry out one of its actions."""
        ...

    def turn_theme(self) -> None: ...
    def open_help(self) -> None: ...
    def open_palette(self) -> None: ...
    def list_scenes(self) -> None: ...
    def list_cues(self, at: str = "") -> None: ...
    def ask_quit(self) -> None: ...
