"""Reaching a running engine from a command."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar

from onecrew.engine.client import Client
from onecrew.engine.endpoint import abandoned_shows, known_as, running_engines
from onecrew.errors import Misuse, Trouble

T = TypeVar("T")


def chosen(show: Path | None) -> Path:
    """The show whose engine is meant: the one named, or that of the only engine running.

    Where none runs, the only one that went without an orderly end and that nobody brings back. Raises
    ``Trouble`` where there is none, ``Misuse`` where there are several and none is named.
    """
    if show is not None:
        return known_as(show)
    running = running_shows() or abandoned_ones()
    if not running:
        raise Trouble("no engine is running; `onecrew open SHOW` or `onecrew engine SHOW` starts one")
    if len(running) > 1:
        raise Misuse(f"{len(running)} engines run; say which with --show: {', '.join(map(str, running))}")
    return running[0]


def running_shows() -> list[Path]:
    """Shows that have an engine running."""
    return [Path(endpoint.show) for endpoint in running_engines()]


def abandoned_ones() -> list[Path]:
    """Shows whose engine and supervisor are gone without an orderly end: no light leaves."""
    return list(abandoned_shows())


def with_client(show: Path | None, work: Callable[[Client], Awaitable[T]]) -> T:
    """Attaches to the engine meant, does the work, detaches.

    Where that engine went without an orderly end and nobody brings it back, it is started again and takes up
    its look.
    """
    path = chosen(show)

    async def attached() -> T:
        client = await Client.attach(path, start=False, resume=True)
        if client.started:
            said = "the engine and its supervisor were gone, and no light left; started again, with its look"
            print(f"onecrew: {said}", file=sys.stderr)
        try:
            return await work(client)
        finally:
            await client.close()

    return asyncio.run(attached())
