"""Detached: starts a process that belongs to no terminal: closing a window or Ctrl-C do not reach it."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

LOG_BYTES = 4 << 20
"""A log longer than this is put aside, one old one is kept."""
NO_WINDOW = int(getattr(subprocess, "CREATE_NO_WINDOW", 0)) | int(
    getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
)
"""Windows needs to be told what a new session says elsewhere."""


def make_room(log: Path) -> None:
    """Puts a log aside that has grown long."""
    if log.exists() and log.stat().st_size > LOG_BYTES:
        log.replace(log.with_suffix(".old.log"))


def start_detached(
    command: Sequence[str], log: Path, stdin: int = subprocess.DEVNULL
) -> subprocess.Popen[bytes]:
    """Starts a process of its own session; what it says, on either output, goes to the end of its log."""
    with log.open("ab") as file:
        return subprocess.Popen(
            command,
            stdin=stdin,
            bufsize=0,
            stdout=file,
            stderr=file,
            start_new_session=True,
            creationflags=NO_WINDOW,
        )
