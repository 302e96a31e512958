"""Launch: brings up the engine of a show as a process of its own, detached from this one."""

from __future__ import annotations

import asyncio
import contextlib
import subprocess
import sys
import time
from pathlib import Path
from typing import IO

from onecrew.detached import make_room, start_detached
from onecrew.engine.endpoint import files_of, is_alive, read_endpoint
from onecrew.engine.supervisor import BORROWED, STAY
from onecrew.errors import Trouble

POLL_S = 0.02
RIVAL = "an engine already runs for "
"""How the words of an engine begin that found another one at its place."""
RIVAL_S = 2.0
"""How long that other one is given once something else was said, which may be what ended it."""


class BorrowedEngine:
    """What keeps an engine that was started for one run: it ends with the process that has this."""

    def __init__(self, line: IO[bytes]) -> None:
        self._line = line

    def release(self) -> None:
        """The engine stays until somebody ends it."""
        with contextlib.suppress(OSError):  # it has ended already
            self._line.write(STAY)
        self.drop()

    def drop(self) -> None:
        """The engine ends."""
        self._line.close()


async def start_engine(show: Path, *, borrowed: bool = False) -> BorrowedEngine | None:
    """Starts a supervisor with its engine and returns once an engine of the show listens.

    It belongs to no terminal: closing a window, Ctrl-C or a lost session do not reach it. Where somebody else
    starts one at the same moment, the first of them stays and is waited for. Raises ``Trouble`` with the
    engine's own last words where none comes up. The caller bounds the time.

    ``borrowed``: returns what the engine ends with; None where it is one that somebody else started.
    """
    files = files_of(show)
    make_room(files.log)
    said_before = files.log.stat().st_size if files.log.exists() else 0
    command = [sys.executable, "-P", "-m", "onecrew.engine.supervisor", str(show)]
    if borrowed:
        process = start_detached([*command, BORROWED], files.log, stdin=subprocess.PIPE)
    else:
        process = start_detached(command, files.log)
    borrowed_engine = None if process.stdin is None else BorrowedEngine(process.stdin)
    ours = False
    try:
        ours = await _listens(show, process, said_before)
    finally:
        if borrowed_engine is not None and not ours:
            borrowed_engine.drop()
    return borrowed_engine if ours else None


async def _listens(show: Path, process: subprocess.Popen[bytes], said_before: int) -> bool:
    """Waits for an engine of the show; whether it is that of this supervisor. Raises ``Trouble``."""
    files = files_of(show)
    while process.poll() is None:
        endpoint = read_endpoint(files.endpoint)
        if endpoint is not None and endpoint.supervisor_pid == process.pid and is_alive(endpoint.pid):
            process.returncode = 0  # it outlives us: nobody here waits for it
            return True
        await asyncio.sleep(POLL_S)
    ended = time.monotonic()
    while True:
        endpoint = read_endpoint(files.endpoint)
        if endpoint is not None and is_alive(endpoint.pid):
            return False
        words = _last_words(files.log, said_before)
        # The log is that of all who start an engine of this show: what else it says may be the other one's.
        others = [line for line in words if not line.startswith(RIVAL)]
        if len(others) == len(words) or (others and time.monotonic() > ended + RIVAL_S):
            raise Trouble("\n".join(others) or f"the engine of {show} ended at once")
        await asyncio.sleep(POLL_S)


def _last_words(log: Path, since: int) -> list[str]:
    with log.open("rb") as file:
        file.seek(since)
        lines = file.read(65536).decode("utf-8", "replace").splitlines()
    prefix = "onecrew: "
    return [line.removeprefix(prefix) for line in lines if line.startswith(prefix)]
