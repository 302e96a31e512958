"""Writer: puts entries into the log from a thread of its own, as soon as they come, and keeps trying.

The light never waits for a disk: whoever has something to write leaves it here, in memory, and goes on. While
the log cannot be written the entries wait, as many as ``MOST_BYTES`` hold; beyond that the oldest are given
up and counted.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path

from onecrew.log.logfile import append
from onecrew.show.save import DISK_FULL, NOT_ALLOWED

RETRY_S = 2.0
MOST_BYTES = 4 << 20
BATCH_BYTES = 1 << 16


class Writer:
    """Writes the lines handed to it, in order. Safe to use from any thread."""

    def __init__(
        self,
        path: Path,
        changed: Callable[[str], None],
        *,
        append: Callable[[Path, bytes], int] = append,
        retry_s: float = RETRY_S,
    ) -> None:
        """``changed`` hears, in the writer's thread, of trouble as a sentence and of its end as ''."""
        self.path = path
        self.given_up = 0
        """Entries that found no room in memory since the last ``take_given_up``."""
        self.head: tuple[bytes, ...] = ()
        """Lines handed over before that a file begins with which was taken away, and is begun anew."""
        self._begun = False
        self._changed = changed
        self._append = append
        self._retry_s = retry_s
        self._lines: deque[bytes] = deque()
        self._bytes = 0
        self._trouble = ""
        self._ending = False
        self._news = threading.Condition()
        self._thread: threading.Thread | None = None

    def put(self, line: bytes) -> None:
        """Hands over a line, whole with its line feed; returns at once."""
        with self._news:
            self._lines.append(line)
            self._bytes += len(line)
            while self._bytes > MOST_BYTES and len(self._lines) > 1:
                self._bytes -= len(self._lines.popleft())
                self.given_up += 1
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="take log", daemon=True)
                self._thread.start()
            self._news.notify_all()

    @property
    def waiting(self) -> int:
        """How many lines are not in the file yet."""
        with self._news:
            return len(self._lines)

    def newest(self, size: int) -> list[bytes]:
        """The newest lines that are not in the file yet, as far as ``size`` bytes hold them, in order."""
        found: list[bytes] = []
        with self._news:
            for line in reversed(self._lines):
                size -= len(line)
                if size < 0:
                    break
                found.append(line)
        return found[::-1]

    def take_given_up(self) -> int:
        """How many entries were lost since this was last asked."""
        with self._news:
            lost, self.given_up = self.given_up, 0
            return lost

    def finish(self, timeout_s: float) -> bool:
        """Waits until everything is written, for at most ``timeout_s``; true if it is."""
        with self._news:
            self._ending = True
            self._news.notify_all()
        if self._thread is not None:
            self._thread.join(timeout_s)
        with self._news:
            return not self._lines

    # ── the thread ──────────────────────────────────────────────────────────────────────────────

    def _run(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._lines or self._ending)
                batch, last_try = self._batch(), self._ending
                waiting = {id(line) for line in self._lines}
                head = b"".join(line for line in self.head if id(line) not in waiting)
            if not batch:
                return
            try:
                if not self._begun or self.path.exists():
                    head = b""
                written = self._append(self.path, head + b"".join(batch)) - len(head)
            except OSError as error:
                self._say(_sentence(error, self.path))
                if last_try:
                    return
                with self._news:
                    self._news.wait_for(lambda: self._ending, self._retry_s)
                continue
            self._begun = True
            self._done(batch, written)
            self._say("")

    def _batch(self) -> list[bytes]:
        batch: list[bytes] = []
        size = 0
        for line in self._lines:
            if batch and size + len(line) > BATCH_BYTES:
                break
            batch.append(line)
            size += len(line)
        return batch

    def _done(self, batch: list[bytes], written: int) -> None:
        """Takes away the lines that reached the file whole; a torn one will be written again, on its own."""
        with self._news:
            for line in batch:
                if written < len(line):
                    break
                written -= len(line)
                if self._lines and self._lines[0] is line:  # else it was given up meanwhile
                    self._bytes -= len(self._lines.popleft())

    def _say(self, trouble: str) -> None:
        if trouble != self._trouble:
            self._trouble = trouble
            self._changed(trouble)


def _sentence(error: OSError, path: Path) -> str:
    if error.errno in DISK_FULL:
        return (
            f"The disk is full and the log {path.name} waits in memory; free some space, the light goes on."
        )
    if error.errno in NOT_ALLOWED:
        return f"The log {path} may not be written and waits in memory; allow it there, the light goes on."
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return f"The folder {path.parent} is gone, the log waits in memory; put it back, the light goes on."
    reason = error.strerror or type(error).__name__
    return f"The log {path} cannot be written ({reason}) and waits in memory; the light goes on."
