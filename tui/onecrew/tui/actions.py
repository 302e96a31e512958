"""Actions: everything a key can do, listed once; bindings, footer, help and palette all read this list."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from textual.binding import Binding
from textual.keys import key_to_character

from onecrew.commands.command import Command

_NAMES = {"plus": "+", "minus": "-"}
"""Keys that Textual calls otherwise than Unicode does."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a person can do.

    ``keys`` are Textual's key names, ``shown`` how the key is printed, ``word`` what the footer says and
    ``words`` the sentence in the help and the palette. ``footer`` orders the footer (0: not there).
    ``always``: the key works while typing and in dialogs too, because a clicker sends it.
    """

    name: str
    keys: tuple[str, ...]
    shown: str
    word: str
    words: str
    run: Callable[[Any], None]
    footer: int = 0
    always: bool = False
    group: str = ""
    """How the footer prints the keys of a group that it stands for; empty: its own."""

    def characters(self) -> frozenset[str]:
        """The printable characters among its keys."""
        typed = (_NAMES.get(key) or key_to_character(key) for key in self.keys)
        return frozenset(character for character in typed if character and character.isprintable())


def bindings(actions: Iterable[Action], *, always: bool) -> list[Binding]:
    """Textual's bindings for the actions that (do not) work everywhere."""
    return [
        Binding(",".join(action.keys), f"act('{action.name}')", action.word, show=False, priority=always)
        for action in actions
        if action.keys and action.always == always
    ]


def characters(actions: Iterable[Action]) -> frozenset[str]:
    """Every printable character that is a key of these actions."""
    return frozenset().union(*(action.characters() for action in actions))


def find(actions: Sequence[Action], name: str) -> Action | None:
    return next((action for action in actions if action.name == name), None)


def calls(method: str, *arguments: object) -> Callable[[Any], None]:
    """An action that calls a method of the screen it is pressed on."""

    def run(screen: Any) -> None:
        getattr(screen, method)(*arguments)

    return run


def sends(command: Command) -> Callable[[Any], None]:
    """An action that sends one command."""
    return asks("send", command)


def opens(mode: str) -> Callable[[Any], None]:
    """An action that opens another screen."""
    return asks("turn_to", mode)


def asks(method: str, *arguments: object) -> Callable[[Any], None]:
    """An action that calls a method of the desk."""

    def run(screen: Any) -> None:
        getattr(screen.desk, method)(*arguments)

    return run
