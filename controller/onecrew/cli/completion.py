"""``onecrew completion``: what a shell needs to complete commands, options, files and words."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import shtab

from onecrew.cli.exits import DONE
from onecrew.cli.parser import parser
from onecrew.commands.forms import verbs


def run(arguments: argparse.Namespace) -> int:
    print(script(arguments.shell))
    return DONE


def script(shell: str) -> str:
    """The completion script of 'bash', 'zsh' or 'fish', made from the parser that reads the words."""
    whole = parser()
    for name, command in commands_of(whole):
        for action in command._actions:
            if action.type is Path:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
            if name == "send" and action.dest == "words":
                action.choices = verbs()
    said: str = shtab.complete(whole, shell)
    return said


def commands_of(whole: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its own parser."""
    for action in whole._actions:
        if isinstance(action, argparse._SubParsersAction):
            yield from action.choices.items()
