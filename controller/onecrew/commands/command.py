"""What every command is, and the row that says all about one kind of it.

A family of commands stands in one module: each model with its row beside it. ``table`` joins the rows; the
command line, OSC, the phone, the log and the undo list are driven by them. To add a command, add its model
and its row to a family, and the code that carries it out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Generic, TypeAlias, TypeVar

from onecrew.commands.context import Context
from onecrew.show.base import Model
from onecrew.show.show import Show

OnOff = bool | None
"""True, False, or None to toggle."""


class Command(Model):
    """A typed message for one thing a user can do; its docstring's first sentence says what it does."""

    kind: str


class PlaybackCommand(Command):
    """Changes what is showing, now or later."""


class ShowCommand(Command):
    """Changes the document; it can be undone."""


class EngineCommand(Command):
    """Is about the engine itself; a standby that is not in control takes it too."""


class Log(Enum):
    """What the log writes of a command that was carried out."""

    CUE = "the cue that it ran, with its times and its look"
    LAMPS = "lamps changed by hand, each from and to"
    STATE = "what holds for the whole room now"
    COUNTDOWN = "what runs when, and what became of it"
    TAKE = "the take, with the state as sent"
    SHOW = "what became of the document, in words"
    NOTE = "the remark"
    ENGINE = "what becomes of the engine"


C = TypeVar("C", bound=Command)
Reader: TypeAlias = Callable[[list[str], Context], Command]


def always(_: Any) -> bool:
    """A lock refuses it, whatever it says."""
    return True


def never(_: Any) -> bool:
    """A lock lets it pass, whatever it says."""
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Row(Generic[C]):
    """Everything that is to be known about one kind of command, but how it is carried out."""

    model: type[C]
    forms: Mapping[str, str]
    """How `onecrew send` takes it: each form, and what that does. Plain literals: --help reads the source."""
    reads: Mapping[str, Reader]
    """By the words that begin it: what makes the command of those that follow, or raises ``Misuse``."""
    writes: Callable[[C, Show | None], str]
    """The words that ``reads`` takes; of an edit, what it changes in that show."""
    log: Log
    says: Callable[[C, Show | None], str] | None = None
    """It in a sentence: what a countdown runs, what was refused, what undo takes back. An edit whose model
    holds more than what it changes says that by the show before it, where there is one. None: its verb."""
    lock_refuses: Callable[[C], bool] = always
    """A lock holds it back, as it stands; undo and redo by what they would bring back."""
    countdown: bool = False
    """A countdown may run it."""
    phone: bool = False
    """A phone may send it."""
    edit: Callable[[Show, C], Show] | None = None
    """The show after it, for an edit that needs nothing but the show; raises ``Refused``."""

    @property
    def kind(self) -> str:
        kind: str = self.model.model_fields["kind"].default
        return kind

    @property
    def does(self) -> str:
        """What it does, one sentence without its stop."""
        return " ".join((self.model.__doc__ or "").split()).replace("``", "").split(". ")[0].removesuffix(".")


def plainly(text: str) -> Callable[[Any, Show | None], str]:
    """Says or writes the same of every command of a kind."""
    return lambda _command, _show: text


def switched(on: str, off: str, toggled: str) -> Callable[[Any, Show | None], str]:
    """Says a switch by where it is put."""
    return lambda command, _: toggled if command.on is None else on if command.on else off


def joined(parts: Sequence[str | None]) -> str:
    """Words with what is empty left out."""
    return " ".join(part for part in parts if part)


def changed(fields: Mapping[str, str], had: Mapping[str, str]) -> list[str]:
    """``key=value`` for every field that is otherwise than before."""
    return [f"{key}={value}" for key, value in fields.items() if value != had[key]]
