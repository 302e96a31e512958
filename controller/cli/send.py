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
    from controller.documents.show import Show
    from controller.engine.client import Client

NEWS_S = 1.0
"""Longest wait for the show to come back changed, between two lines of a script."""


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

    show_before: Show | None = None
    for words in lines:
        if show_before is not None:
            await _news(client, show_before)
        context = Context(client.show, all_profiles(client.show_path) if words[0].lower() == "patch" else {})
        command = parse(words, context)
        before = client.show
        await client.send(command)
        show_before = before if _edits(command) else None
        if not quiet:
            print(words_of(command))


async def _news(client: Client, before: Show) -> None:
    """Waits until the engine has sent the show as the last line left it."""
    import asyncio

    deadline = asyncio.get_running_loop().time() + NEWS_S
    while client.show is before and asyncio.get_running_loop().time() < deadline:
        await asyncio.sleep(0.005)


def _edits(command: object) -> bool:
    from typing import get_args

    from controller.documents.commands import ShowCommand

    return isinstance(command, get_args(ShowCommand))
