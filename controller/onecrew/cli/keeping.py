"""Keeping: an engine's client on a thread of its own, which keeps a light while the person types."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Coroutine, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from onecrew.cli.engine import borrowed_engine
from onecrew.cli.exits import undisturbed
from onecrew.commands.command import Command
from onecrew.engine.client import Client
from onecrew.errors import OnecrewError, Refused, Trouble

T = TypeVar("T")
HEAL_S = 8.0
"""How long an engine that has to be started again is waited for."""
_POLL_S = 0.05


class Keeper:
    """A client that repeats a command: the engine gives a light back as soon as nobody asks for it."""

    def __init__(self, path: Path, every_s: float, *, started: bool) -> None:
        """``started``: the engine runs for this alone."""
        self.started = started
        self.failed: OnecrewError | None = None
        """Why the light is not kept any more."""
        self._every_s = every_s
        self._repeated: Command | None = None
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        try:
            self.client = self.run(Client.attach(path, borrow=started, rate_hz=4.0))
        except BaseException:
            self._end()
            raise
        self._repeating = asyncio.run_coroutine_threadsafe(self._repeat(), self._loop)

    def keep(self, command: Command, again: Command) -> None:
        """Send ``command``, then ``again`` all the time; raises what the engine refuses."""
        self._repeated = None
        self.send(command)
        self.failed = None
        self._repeated = again

    def drop(self) -> None:
        """Repeat nothing any more."""
        self._repeated = None

    def send(self, command: Command) -> None:
        """Send a command, once more if the engine had to be started again meanwhile."""
        try:
            self.run(self.client.send(command))
        except Trouble:
            deadline = time.monotonic() + HEAL_S
            while not self.client.attached and time.monotonic() < deadline:
                time.sleep(_POLL_S)
            self.run(self.client.send(command))

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """Return what a coroutine returns that runs on the thread."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    def close(self) -> None:
        self.drop()
        self._repeating.cancel()
        self.run(self.client.close())
        self._end()

    async def _repeat(self) -> None:
        while True:
            await asyncio.sleep(self._every_s)
            if (again := self._repeated) is None:
                continue
            try:
                await self.client.send(again)
            except Refused as refused:
                if self._repeated is again:
                    self.failed, self._repeated = refused, None
            except OnecrewError:
                pass  # the engine is away, and may come back

    def _end(self) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(2.0)
        if not self._thread.is_alive():
            self._loop.close()


@contextmanager
def keeping(path: Path, every_s: float, off: Command) -> Iterator[Keeper]:
    """A keeper with the engine of the show, or one that runs as long as this does; ``off`` at the end."""
    with borrowed_engine(path) as has_one:
        keeper = Keeper(path, every_s, started=not has_one)
        try:
            yield keeper
        finally:
            with undisturbed():
                keeper.drop()
                try:
                    keeper.send(off)
                except OnecrewError as error:
                    keeper.failed = keeper.failed or error
                keeper.close()
