"""Autosave: writes every change of the show to its file, in a thread, and keeps trying where it cannot.

The light never waits for a disk. While the file cannot be written the newest show is kept in memory (and in
the live state file), the fault is shown, and the next attempt follows by itself.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from onecrew.errors import OnecrewError
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved

log = logging.getLogger(__name__)

T = TypeVar("T")

RETRY_S = 2.0
SLOW_S = 2.0
"""A save that takes longer is said: as long as it lasts the show is not in its file."""


class Autosave:
    """Saves the newest show handed to it, one write at a time."""

    def __init__(self, write: Callable[[Show], None], changed: Callable[[], None]) -> None:
        """``write`` blocks and raises ``OnecrewError`` to fail; ``changed`` hears of a new state."""
        self._write = write
        self._changed = changed
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="autosave")
        self._wanted: Show | None = None
        self._task: asyncio.Task[None] | None = None
        self.state = Saved()

    @property
    def pending(self) -> Show | None:
        """The show that is not on disk yet, if any."""
        return self._wanted

    def save(self, show: Show) -> None:
        """Has the show saved soon; a newer one replaces one that still waits."""
        self._wanted = show
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._run())

    async def beside(self, look: Callable[[], T]) -> T:
        """Calls something slow in the thread that saves, never while it does."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, look)

    async def finish(self, timeout_s: float) -> None:
        """Waits until everything is on disk, for at most ``timeout_s``."""
        if self._task is not None and not self._task.done():
            await asyncio.wait([self._task], timeout=timeout_s)
            self._task.cancel()
        self._thread.shutdown(wait=False, cancel_futures=True)

    async def _run(self) -> None:
        loop = asyncio.get_running_loop()
        while (show := self._wanted) is not None:
            writing = loop.run_in_executor(self._thread, self._write, show)
            if not (await asyncio.wait([writing], timeout=SLOW_S))[0]:
                self._say(Saved(ok=False, error="the disk does not answer; the show is saved once it does"))
            try:
                await writing
            except OnecrewError as error:
                self._say(Saved(ok=False, error=str(error)))
            except Exception:
                log.exception("a save failed")
                self._say(
                    Saved(
                        ok=False, error="the show was not saved: the engine failed at it, its log says more"
                    )
                )
            else:
                if self._wanted is show:
                    self._wanted = None
                self._say(Saved())
                continue
            await asyncio.sleep(RETRY_S)

    def _say(self, state: Saved) -> None:
        changed = state != self.state
        self.state = state
        if changed or state.ok:
            self._changed()
