"""The screens from start to end: attached to the engine of a show, and away again."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import cast

from onecrew.engine.client import Client as EngineClient
from onecrew.tui import theme
from onecrew.tui.app import OnecrewApp
from onecrew.tui.desk import Receiver
from onecrew.tui.link import Client
from onecrew.tui.signals import run_until_ended


def run(
    show_path: Path | str,
    *,
    receiver: Receiver | None = None,
    first_run: bool = False,
    colours: theme.Remembered = theme.ON_SET,
) -> None:
    """Attach to the engine of a show (starting one where none runs) and open the screens.

    ``receiver`` says what a receiver sees, for the demo; ``first_run`` leads through a new show; ``colours``
    are those of the room. Raises ``OnecrewError`` with a sentence where no engine can be reached.
    """
    asyncio.run(_run(show_path, receiver, first_run, colours))


async def _run(
    show_path: Path | str, receiver: Receiver | None, first_run: bool, colours: theme.Remembered
) -> None:
    client = await EngineClient.attach(show_path)
    try:
        app = OnecrewApp(cast(Client, client), receiver, first_run=first_run, colours=colours)
        await run_until_ended(app)
        if app.bug is not None:
            raise app.bug
    finally:
        await client.close()
