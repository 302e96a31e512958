"""``onecrew send``: plain words to a running engine."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeAlias

from onecrew.cli.exits import DONE, Misuse
from onecrew.cli.parts import Commands, add, add_show_choice, all_profiles
from onecrew.commands.forms import listing
from onecrew.errors import Mistake, OnecrewError, Refused, Trouble

if TYPE_CHECKING:
    from onecrew.engine.client import Client

Line: TypeAlias = "tuple[int | None, Sequence[str]]"
"""Its number in a script, and its words."""


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "send",
        run,
        does="send one command to a running engine",
        more="What can be said:\n\n"
        f"{listing()}\n\n"
        "With '-' instead of words, lines are read from standard input and sent one by one until one fails;\n"
        "empty lines and lines that start with # are left out.",
        example="onecrew send set key level=22% cct=3400 in 2s",
    )
    command.add_argument("words", nargs="+", metavar="WORD", help="the command, or - for standard input")
    command.add_argument("-q", "--quiet", action="store_true", help="do not repeat what was understood")
    add_show_choice(command)


def run(arguments: argparse.Namespace) -> int:
    from onecrew.cli.reach import with_client

    words: list[str] = arguments.words
    lines: Iterable[Line] = script(sys.stdin) if words == ["-"] else [(None, words)]

    async def work(client: Client) -> None:
        await carry_out(client, lines, quiet=arguments.quiet)

    with_client(arguments.show, work)
    return DONE


def script(source: Iterable[str]) -> Iterable[Line]:
    """Number and words of each line that says something."""
    import shlex

    for number, line in enumerate(source, start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            try:
                yield number, shlex.split(line)
            except ValueError as error:
                raise Misuse(f"line {number}: {error}") from error


async def carry_out(client: Client, lines: Iterable[Line], quiet: bool) -> None:
    """Parses and sends each line; stops with its exception, which names the line, at the first that fails."""
    from onecrew.commands.context import Context
    from onecrew.commands.models import Undo
    from onecrew.commands.table import read_words, write_words
    from onecrew.show.faults import printable
    from onecrew.show.show import Show

    show, edited = client.show, False
    undoes = client.snapshot.undo if client.snapshot is not None else ""  # known until a line edits the show
    for number, words in lines:
        if edited:
            show = Show.model_validate((await client.ask("show"))["show"])
        context = Context(show, all_profiles(client.show_path) if words[0].lower() == "patch" else {})
        try:
            command = read_words(words, context)
            await client.send(command)
        except OnecrewError as error:
            raise _on_line(number, error) from error
        edited = _edits(command)
        if not quiet:
            took_back = f": {undoes}" if isinstance(command, Undo) and undoes else ""
            print(printable(write_words(command, show) + took_back), flush=True)
        undoes = "" if edited else undoes


def _on_line(number: int | None, error: OnecrewError) -> OnecrewError:
    """The error with the number of its line, if it has one; of the kinds that a command ends by."""
    if number is None:
        return error
    kind = next((kind for kind in (Misuse, Refused, Trouble) if isinstance(error, kind)), Mistake)
    return kind(f"line {number}: {error}")


def _edits(command: object) -> bool:
    from onecrew.commands.command import ShowCommand

    return isinstance(command, ShowCommand)
