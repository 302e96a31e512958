"""Console: standard output and error of a process that may never wait for them: a thread writes them.

A pipe that nobody reads, a terminal that was halted and a disk that stalls hold up whoever writes to them,
and no light may hang on that. Imports nothing but the standard library: the supervisor has it, too.
"""

from __future__ import annotations

import contextlib
import os
import select
import sys
import threading
from collections.abc import Iterator
from queue import SimpleQueue
from typing import Any, TextIO

MOST_BYTES = 256 << 10
"""What waits to be written at most; what comes on top of it is left out and counted."""
END_S = 0.5
"""How long an end waits for what is not written yet."""


class BackgroundStream:
    """A text stream to a file descriptor that takes at once what is written; all else is the stream's."""

    def __init__(self, stream: TextIO) -> None:
        """Raises ``OSError`` for a stream without a file descriptor."""
        self._stream = stream
        self._number = stream.fileno()
        self._waiting: SimpleQueue[bytes | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        # Each of these is counted up by one side alone, so neither has to wait for a lock of the other.
        self._taken = self._left_out = 0
        self._written = self._confessed = 0

    def write(self, text: str) -> int:
        """Takes it, or leaves it out where too much waits. Safe in any thread and signal handler."""
        line = text.encode(self._stream.encoding or "utf-8", self._stream.errors or "replace")
        if self._taken - self._written + len(line) > MOST_BYTES:
            self._left_out += text.count("\n")
            return len(text)
        self._taken += len(line)
        self._waiting.put(line)
        if self._thread is None:
            thread = threading.Thread(target=self._run, name="console", daemon=True)
            with contextlib.suppress(RuntimeError):  # no room for one: the next line may find some
                thread.start()
                self._thread = thread
        return len(text)

    def writelines(self, lines: Any) -> None:
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        """Nothing to do: what was taken is on its way."""

    def finish(self, timeout_s: float) -> None:
        """Waits until everything is written, for at most ``timeout_s``. The last call."""
        self._waiting.put(None)
        if self._thread is not None:
            self._thread.join(timeout_s)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    # ── the thread ──────────────────────────────────────────────────────────────────────────────

    def _run(self) -> None:
        while (line := self._waiting.get()) is not None:
            self._put(line)
            self._written += len(line)
            if self._waiting.empty():
                self._confess()
        self._confess()

    def _confess(self) -> None:
        lost, self._confessed = self._left_out - self._confessed, self._left_out
        if lost:
            self._put(f"onecrew: {lost} lines were left out here: nobody read what was said\n".encode())

    def _put(self, line: bytes) -> None:
        """Writes it past the stream, whose own lock an end of the interpreter would wait for."""
        with contextlib.suppress(OSError):  # the window is closed, the disk is full
            while line:
                try:
                    line = line[os.write(self._number, line) :]
                except BlockingIOError:  # whoever shares the file has set it not to wait
                    select.select([], [self._number], [])


@contextlib.contextmanager
def background_output() -> Iterator[None]:
    """Makes standard output and error such streams until it ends, where they are files at all."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = map(_in_background, before)
    try:
        yield
    finally:
        now = sys.stdout, sys.stderr
        sys.stdout, sys.stderr = before
        for stream in now:
            if isinstance(stream, BackgroundStream):
                stream.finish(END_S)


def _in_background(stream: Any) -> Any:
    with contextlib.suppress(OSError, ValueError, AttributeError):  # none, closed, or no file: a test's own
        stream.flush()
        return BackgroundStream(stream)
    return stream
