"""A show and its edits, by the engine that runs for it or by its file where none does; no lamp is moved."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.documents.commands import ShowCommand
    from controller.documents.profile import Profile
    from controller.documents.show import Fixture, Show
    from controller.engine.client import Client


def show_now(path: Path, profiles: Mapping[str, Profile]) -> Show:
    """The show as its engine has it, or as its file has it where none runs; raises its faults."""
    from controller.cli.reach import running_shows, with_client
    from controller.documents.load import load_show
    from controller.documents.show import Show

    if path not in running_shows():
        return load_show(path, profiles)

    async def ask(client: Client) -> Show:
        return Show.model_validate((await client.ask("show"))["show"])

    return with_client(path, ask)


def put_in_show(path: Path, profiles: Mapping[str, Profile], command: ShowCommand) -> None:
    """Carries out an edit where the show is; raises ``LampwrightError`` and changes nothing if it cannot."""
    from controller.cli.reach import running_shows, with_client
    from controller.documents.edit import apply_edit
    from controller.documents.save import ShowFile

    if path in running_shows():

        async def send(client: Client) -> None:
            await client.send(command)

        with_client(path, send)
        return
    file = ShowFile(path)
    file.save(apply_edit(file.load(profiles), command, profiles))


def fixture_called(show: Show, name: str) -> Fixture:
    """The fixture of this id; raises ``Misuse`` with the ids that there are."""
    from controller.cli.exits import Misuse
    from controller.cli.readings import nearest

    fixture = show.fixture(name.lower())
    if fixture is None:
        known = [one.id for one in show.rig.fixtures]
        raise Misuse(
            f"there is no fixture '{name}'{nearest(name.lower(), known)}; "
            f"the rig has {', '.join(known) or 'none yet'}"
        )
    return fixture
