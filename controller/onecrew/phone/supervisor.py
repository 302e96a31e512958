"""Page supervisor: starts the phone page's process when the show wants one, and starts it again if it dies.

The page is not watched closely: it follows the engine by itself, ends by itself, and outlives an engine that
dies. An engine that follows finds it by its lock and leaves it as it is.
"""

from __future__ import annotations

import asyncio
import logging
import subprocess
import sys
from collections.abc import Callable
from typing import Any

from filelock import FileLock, Timeout

from onecrew.detached import make_room, start_detached
from onecrew.phone.files import PageFiles
from onecrew.show.show import Page

log = logging.getLogger(__name__)

TICK_S = 1.0
SOON_S = 0.2
"""How often a page that is not served yet is looked at."""
MOST_WAIT_S = 30.0
"""Longest pause before a page that keeps dying is started again."""
LIVES_S = 10.0
"""A page that lived this long did not die of its start."""


class PageSupervisor:
    """Keeps the page of one show running. It needs a running loop."""

    def __init__(self, files: PageFiles, say: Callable[[str], None]) -> None:
        """``say`` takes a remark for every client."""
        self._files = files
        self._say = say
        self._wanted: Page | None = None
        self._child: subprocess.Popen[bytes] | None = None
        self._started_at = 0.0
        self._deaths = 0
        self._next_start = 0.0
        self._status: dict[str, Any] = {}
        self._said = ""
        self._timer: asyncio.TimerHandle | None = None

    def follow(self, wanted: Page | None) -> None:
        """Starts the page where the show wants one; one that runs follows the show by itself."""
        before, self._wanted = self._wanted, wanted
        if wanted is not None and before is None:
            self._deaths, self._next_start = 0, 0.0
            self._tick()

    def state(self) -> dict[str, Any]:
        """What a snapshot says of it."""
        if self._wanted is None:
            return {}
        error = str(self._status.get("error", "")) or self._trouble()
        at = str(self._status.get("at", ""))
        state = "failing" if error else "listening" if at == self._wanted.listen else "starting"
        phones = self._status.get("phones", 0)
        return {"state": state, "at": self._wanted.listen, "error": error, "phones": phones}

    def close(self) -> None:
        """Ends the page that was started here; one that was found ends when the engine says goodbye."""
        self._wanted = None
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if self._child is not None and self._child.poll() is None:
            self._child.terminate()

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _tick(self) -> None:
        self._timer = None
        try:
            self._look()
        except OSError as error:
            log.warning("the phone page could not be checked on: %s", error)
        if self._wanted is not None or self._child is not None:
            served = self.state().get("state") == "listening"
            tick_s = TICK_S if served else SOON_S
            self._timer = asyncio.get_running_loop().call_later(tick_s, self._tick)

    def _look(self) -> None:
        now = asyncio.get_running_loop().time()
        if self._child is not None and self._child.poll() is not None:
            quick = self._child.returncode == 1 or now - self._started_at < LIVES_S
            self._deaths = self._deaths + 1 if quick and self._child.returncode not in (0, 3) else 0
            self._next_start = now + min(MOST_WAIT_S, 2.0**self._deaths - 1.0)
            self._child = None
        if self._wanted is not None and self._child is None and now >= self._next_start and self._none_runs():
            self._start(now)
        self._status = self._files.read_status()
        error = self.state().get("error", "")
        if error and error != self._said:
            self._say(error)
        self._said = error

    def _none_runs(self) -> bool:
        lock = FileLock(self._files.lock)
        try:
            lock.acquire(blocking=False)
        except Timeout:
            return False
        lock.release()
        return True

    def _start(self, now: float) -> None:
        make_room(self._files.log)
        self._files.status.unlink(missing_ok=True)  # a page that was killed left word of where it listened
        # Its outputs are never the engine's: those may be pipes whose reader waits for their end.
        command = [sys.executable, "-P", "-m", "onecrew.engine.phone_page", str(self._files.show)]
        self._child = start_detached(command, self._files.log)
        self._started_at = now

    def _trouble(self) -> str:
        return f"the phone page keeps stopping; {self._files.log} says why" if self._deaths > 2 else ""
