"""``onecrew send``: plain words to a running engine."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from onecrew.cli.exits import DONE
from onecrew.cli.reach import with_client
from onecrew.commands.command import ShowCommand
from onecrew.commands.context import Context
from onecrew.commands.network import SetRemote
from onecrew.commands.session import Undo
from onecrew.commands.table import read_words, write_words
from onecrew.engine.client import Client
from onecrew.errors import Mistake, Misuse, OnecrewError, Refused, Trouble
from onecrew.language.saying import NO_CHANGE
from onecrew.network.listen_faults import not_here
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.terminal import printable

Line: TypeAlias = "tuple[int | None, Sequence[str]]"
"""Its number in a script, and its words."""


def run(arguments: argparse.Namespace) -> int:
    words: list[str] = arguments.words
    lines: Iterable[Line] = script(sys.stdin) if words == ["-"] else [(None, words)]

    async def work(client: Client) -> None:
        await carry_out(client, lines, quiet=arguments.quiet)

    with_client(arguments.show, work)
    return DONE


def script(source: Iterable[str]) -> Iterable[Line]:
    """Number and words of each line that says something."""
    for number, line in enumerate(source, start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            try:
                yield number, shlex.split(line)
            except ValueError as error:
                raise Misuse(f"line {number}: {error}") from error


async def carry_out(client: Client, lines: Iterable[Line], quiet: bool) -> None:
    """Parses and sends each line; stops with its exception, which names the line, at the first that fails."""
    show, edited = client.show, False
    undoes = client.snapshot.undo if client.snapshot is not None else ""  # by the first line
    for number, words in lines:
        if edited:
            show = Show.model_validate((await client.ask("show"))["show"])
        patches = words[0].lower() == "patch"
        context = Context(show, load_profiles(beside=client.show_path) if patches else {})
        try:
            if patches:  # a profile may have been written since the engine began
                await client.ask("profiles", again=True)
            command = read_words(words, context)
            changed = await client.send(command)
        except OnecrewError as error:
            raise _on_line(number, error) from error
        edited = isinstance(command, ShowCommand)
        for said in not_here(command.remote) if isinstance(command, SetRemote) else ():
            print(f"onecrew: {printable(said)}", file=sys.stderr, flush=True)
        if not quiet:
            took_back = f": {undoes}" if isinstance(command, Undo) and undoes else ""
            print(printable(write_words(command, show) + took_back), flush=True)
            if not changed:
                print(NO_CHANGE, flush=True)
        undoes = ""  # known of the first line alone: each changes what is done last


def _on_line(number: int | None, error: OnecrewError) -> OnecrewError:
    """The error with the number of its line, if it has one; of the kinds that a command ends by."""
    if number is None:
        return error
    kind = next((kind for kind in (Misuse, Refused, Trouble) if isinstance(error, kind)), Mistake)
    return kind(f"line {number}: {error}")
