"""Adds a command to the parser: its help, its example, and the name of the function that is its body."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add(
    commands: Commands, name: str, *, does: str, example: str, more: str = "", body: str = ""
) -> argparse.ArgumentParser:
    """Adds one command.

    ``does`` is one line, ``more`` what --help adds, ``example`` one whole line. ``body`` is
    ``module:function``, called with the parsed arguments, and returns the exit status; it is ``run`` in the
    module named like the command where nothing is said.
    """
    description = f"{does[0].upper()}{does[1:]}." + (f"\n\n{more}" if more else "")
    command = commands.add_parser(
        name,
        help=does,
        description=description,
        epilog=f"example:\n  {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.set_defaults(body=body or f"onecrew.cli.{name}:run")
    return command


def add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON for a script")


def add_replace(command: argparse.ArgumentParser) -> None:
    command.add_argument("--replace", action="store_true", help="write over a file of this name")


def add_show_choice(command: argparse.ArgumentParser, *, plain: bool = True) -> None:
    """``plain``: it is known without ``--show`` too, in commands that take no other words."""
    which = "which show, when several engines run"
    if plain:
        command.add_argument("show", type=Path, metavar="SHOW", nargs="?", action=_Given, help=which)
    command.add_argument("--show", type=Path, metavar="SHOW", help=argparse.SUPPRESS if plain else which)


class _Given(argparse.Action):
    """Keeps what an option said where the plain argument is not there."""

    def __call__(
        self, _parser: object, namespace: argparse.Namespace, values: object, *_option: object
    ) -> None:
        if values is not None:
            setattr(namespace, self.dest, values)
