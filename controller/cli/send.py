"""``lampwright send``: plain words to a running engine."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from controller.cli.exits import DONE, Misuse
from controller.cli.grammar import table
from controller.cli.parts import Commands, add, add_show_choice, all_profiles

if TYPE_CHECKING:
    from controller.engine.client import Client


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "send",
        run,
        does="send one command to a running engine",
        more="What can be said:\n\n"
        f"{table()}\n\n"
        "With '-' instead of words, lines are read from standard input and sent one by one until one fails;\n"
        "empty lines and lines that start with # are left out.",
        example="lampwright send set key level=15% cct=2800 in 2s",
    )
    command.add_argument("words", nargs="+", metavar="WORD", help="the command, or - for standard input")
    command.add_argument("-q", "--quiet", action="store_true", help="do not repeat what was understood")
    add_show_choice(command)


def run(arguments: argparse.Namespace) -> int:
    from controller.cli.reach import with_client

    words: list[str] = arguments.words
    lines: Iterable[Sequence[str]] = script(sys.stdin) if words == ["-"] else [words]

    async def work(client: Client) -> None:
        await carry_out(client, lines, quiet=arguments.quiet)

    with_client(arguments.show, work)
    return DONE


def script(source: Iterable[str]) -> Iterable[list[str]]:
    """Words of each line that says something."""
    import shlex

    for number, line in enumerate(source, start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            try:
                yield shlex.split(line)
            except ValueError as error:
                raise Misuse(f"line {number}: {error}") from error


async def carry_out(client: Client, lines: Iterable[Sequence[str]], quiet: bool) -> None:
    """Parses and sends each line; stops with its exception at the first that fails."""
    from controller.cli.phrases import Context
    from controller.cli.saying import words_of
    from controller.cli.words import parse
    from controller.documents.show import Show

    show, edited = client.show, False
    for words in lines:
        if edited:
            show = Show.model_validate((await client.ask("show"))["show"])
        context = Context(show, all_profiles(client.show_path) if words[0].lower() == "patch" else {})
        command = parse(words, context)
        await client.send(command)
        edited = _edits(command)
        if not quiet:
            print(words_of(command), flush=True)


def _edits(command: object) -> bool:
    from typing import get_args

    from controller.documents.commands import ShowCommand

    return isinstance(command, get_args(ShowCommand))
