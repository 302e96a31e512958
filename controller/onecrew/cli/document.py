"""A show that a command reads or changes: through its engine where one runs, else in its file."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path

from onecrew.cli.parts import existing_show
from onecrew.cli.reach import with_client
from onecrew.commands.command import ShowCommand
from onecrew.commands.table import apply_edit
from onecrew.engine.client import Client
from onecrew.engine.endpoint import shows_of_engines
from onecrew.errors import Misuse
from onecrew.language.names import nearest
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.save import ShowFile
from onecrew.show.show import Fixture, Show


def has_engine(path: Path) -> bool:
    """Whether an engine has the show: one that runs, or whose state the next one goes on with.

    The file of a show may be older than that state.
    """
    return path.expanduser().resolve() in shows_of_engines()


def current_show(path: Path) -> Show:
    """The show as its engine has it, else as its file does; raises its faults."""
    if has_engine(path):

        async def ask(client: Client) -> Show:
            return Show.model_validate((await client.ask("show"))["show"])

        return with_client(path, ask)

    return load_show(existing_show(path), load_profiles(beside=path))


def carry_out(path: Path, commands: Sequence[ShowCommand]) -> str:
    """Carries out edits of a show, in order; returns where: 'in the running engine' or 'in FILE'.

    Raises ``OnecrewError``. In a file all of them are done or none; an engine keeps those before the one
    that it refused.
    """
    if has_engine(path):

        async def send(client: Client) -> None:
            for command in commands:
                await client.send(command)
                await asyncio.sleep(0)

        with_client(path, send)
        return "in the running engine"

    profiles = load_profiles(beside=path)
    file = ShowFile(existing_show(path))
    show = file.load(profiles)
    for command in commands:
        show = apply_edit(show, command, profiles)
    file.save(show)
    return f"in {path}"


def fixture_called(show: Show, name: str) -> Fixture:
    """The fixture of this id; raises ``Misuse`` with the ids that there are."""
    fixture = show.fixture(name.lower())
    if fixture is None:
        known = [one.id for one in show.rig.fixtures]
        raise Misuse(
            f"there is no fixture '{name}'{nearest(name.lower(), known)}; "
            f"the rig has {', '.join(known) or 'none yet'}"
        )
    return fixture
