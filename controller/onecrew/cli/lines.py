"""Lines that are typed while something else is watched."""

from __future__ import annotations

import os
import queue
import sys
import threading

from onecrew.cli.parts import LONGEST_LINE


class Lines:
    """Standard input, read on a thread of its own.

    It reads the file itself: a thread that waits in ``sys.stdin`` holds a lock that Python needs at its end.
    """

    def __init__(self) -> None:
        self._heard: queue.Queue[str | None] = queue.Queue()
        self.ended = sys.stdin is None
        """Whether nothing more can come."""
        if not self.ended:
            threading.Thread(target=self._listen, args=(sys.stdin.fileno(),), daemon=True).start()

    def next(self, wait_s: float | None = None) -> str | None:
        """Return the next line in small letters; None where none comes in time, or ever."""
        if self.ended:
            return None
        try:
            line = self._heard.get(timeout=wait_s)
        except queue.Empty:
            return None
        self.ended = line is None
        return line

    def ask(self, prompt: str) -> str | None:
        """Return what is typed after a prompt; None where nothing more can come."""
        sys.stderr.write(prompt)
        sys.stderr.flush()
        return self.next()

    def _listen(self, file: int) -> None:
        rest = b""
        while data := _read(file):
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                self._heard.put(_said(line))
            rest = rest[-LONGEST_LINE:]
        if rest:
            self._heard.put(_said(rest))
        self._heard.put(None)


def _said(line: bytes) -> str:
    return line.decode("utf-8", "replace").strip().lower()


def _read(file: int) -> bytes:
    try:
        return os.read(file, LONGEST_LINE)
    except OSError:
        return b""
