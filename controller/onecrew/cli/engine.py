"""``onecrew stop`` ends an engine from anywhere; one that a command borrows ends with it."""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from onecrew.cli.exits import DONE, undisturbed
from onecrew.cli.parts import has_terminal
from onecrew.cli.reach import chosen, running_shows, with_client
from onecrew.commands.session import Stop
from onecrew.engine.client import Client
from onecrew.engine.endpoint import running_engines, shows_of_engines
from onecrew.errors import Refused, Trouble
from onecrew.language.reading import seconds

STOP_MARGIN_S = 5.0
POLL_S = 0.02
BORROWED_FADE_S = 0.5


def run_stop(arguments: argparse.Namespace) -> int:
    fade_s = seconds(arguments.fade, "fade", 60.0)
    for show in running_shows() if arguments.all else [chosen(arguments.show)]:
        try:
            stop(show, fade_s, confirmed=arguments.yes)
        except Refused as refused:
            if not really(str(refused)):
                raise Refused(f"{refused} with --yes") from refused
            stop(show, fade_s, confirmed=True)
        print(f"ended the engine of {show}")
    return DONE


def really(why_not: str) -> bool:
    """Asks at the terminal whether to end an engine all the same; no is the answer without one."""
    if not has_terminal():
        return False
    print(why_not)
    return input("end it all the same? (y/N) ").strip().lower() in ("y", "yes")


def stop(show: Path, fade_s: float, *, confirmed: bool = False) -> None:
    """Fades a show to black and waits until its engine is gone; raises ``Trouble`` if it does not go.

    Raises ``Refused`` where the engine wants this confirmed.
    """

    async def work(client: Client) -> None:
        await client.send(Stop(fade_s=fade_s, confirmed=confirmed))

    with_client(show, work)
    deadline = time.monotonic() + fade_s + STOP_MARGIN_S
    while any(Path(endpoint.show) == show for endpoint in running_engines()):
        if time.monotonic() > deadline:
            raise Trouble(f"the engine of {show} was asked to end and is still running")
        time.sleep(POLL_S)


@contextmanager
def borrowed_engine(show: Path) -> Iterator[bool]:
    """Whether the show has an engine already; one that is started inside is ended with it, whatever ends it.

    It has one also in the moment in which that is started again after its death, and where nobody has done
    that yet: what comes up inside is then the engine of somebody who wants its look.
    """
    has_one = show in shows_of_engines()
    try:
        yield has_one
    finally:
        with undisturbed():
            if not has_one and show in running_shows():
                stop(show, BORROWED_FADE_S)
