"""Reaching a running engine from a command."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from onecrew.cli.exits import Misuse
from onecrew.errors import Trouble

if TYPE_CHECKING:
    from onecrew.engine.client import Client

T = TypeVar("T")


def chosen(show: Path | None) -> Path:
    """The show whose engine is meant: the one named, or that of the only engine running.

    Raises ``Trouble`` where none runs, ``Misuse`` where several do and none is named.
    """
    if show is not None:
        return show.expanduser().resolve()
    running = running_shows()
    if not running:
        raise Trouble("no engine is running; `onecrew open SHOW` or `onecrew engine SHOW` starts one")
    if len(running) > 1:
        raise Misuse(f"{len(running)} engines run; say which with --show: {', '.join(map(str, running))}")
    return running[0]


def running_shows() -> list[Path]:
    """Shows that have an engine running."""
    from onecrew.engine.endpoint import running_engines

    return [Path(endpoint.show) for endpoint in running_engines()]


def with_client(show: Path | None, work: Callable[[Client], Awaitable[T]]) -> T:
    """Attaches to the engine meant, does the work, detaches."""
    path = chosen(show)

    async def attached() -> T:
        from onecrew.engine.client import Client

        client = await Client.attach(path, start=False)
        try:
            return await work(client)
        finally:
            await client.close()

    return asyncio.run(attached())
