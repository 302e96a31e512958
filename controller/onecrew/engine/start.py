"""Start: brings up the engine of a show as a process of its own, detached from this one."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time
from pathlib import Path

from onecrew.engine.endpoint import files_of, is_alive, read_endpoint
from onecrew.errors import Trouble

POLL_S = 0.02
LOG_BYTES = 4 << 20
"""A log longer than this is put aside, one old one is kept."""
RIVAL = "an engine already runs for "
"""How the words of an engine begin that found another one at its place."""
RIVAL_S = 2.0
"""How long that other one is given once something else was said, which may be what ended it."""
NO_WINDOW = int(getattr(subprocess, "CREATE_NO_WINDOW", 0)) | int(
    getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
)
"""Windows needs to be told what a new session says elsewhere."""


async def start_engine(show: Path) -> None:
    """Starts a supervisor with its engine and returns once an engine of the show listens.

    It belongs to no terminal: closing a window, Ctrl-C or a lost session do not reach it. Where somebody else
    starts one at the same moment, the first of them stays and is waited for. Raises ``Trouble`` with the
    engine's own last words where none comes up. The caller bounds the time.
    """
    files = files_of(show)
    if files.log.exists() and files.log.stat().st_size > LOG_BYTES:
        files.log.replace(files.log.with_suffix(".old.log"))
    said_before = files.log.stat().st_size if files.log.exists() else 0
    with files.log.open("ab") as log:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "onecrew.engine.supervisor", str(show)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
            creationflags=NO_WINDOW,
        )
    while process.poll() is None:
        endpoint = read_endpoint(files.endpoint)
        if endpoint is not None and endpoint.supervisor_pid == process.pid and is_alive(endpoint.pid):
            process.returncode = 0  # it outlives us: nobody here waits for it
            return
        await asyncio.sleep(POLL_S)
    ended = time.monotonic()
    while True:
        endpoint = read_endpoint(files.endpoint)
        if endpoint is not None and is_alive(endpoint.pid):
            return
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
