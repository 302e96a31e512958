"""Kept log: what is not in the log's file yet, kept where it outlives the engine.

A line is kept before the writer has it, and what somebody noted before they hear that it is done, so that a
kill loses neither. The engine that follows puts into the file what that lacks.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

from onecrew.engine.live import CHUNK_BYTES, Section
from onecrew.log.entries import Entry, from_line
from onecrew.log.logfile import latest_with
from onecrew.log.writer import Writer

KEPT_BYTES = 1 << 18
"""Of the lines that wait so many bytes are kept, the newest ones; at the engine's end all."""
SURE_BYTES = CHUNK_BYTES // 4
"""There is room for so many on a full disk too, whatever JSON makes of them."""


class Outliving(Protocol):
    """What outlives the engine."""

    logged: int
    """Number of the last entry that was made for the log."""

    @property
    def unwritten(self) -> Section: ...


class KeptLog:
    """The lines of one log that its file may lack."""

    def __init__(self, outliving: Outliving | None, writer: Writer) -> None:
        self._outliving = outliving
        self._writer = writer
        self._begun = False
        self.whole = True
        """All that waited was kept the last time that something was."""
        self._taken_up: list[bytes] = []
        """Lines that the engine before this one had kept."""

    def take_up(self, earlier: list[Entry]) -> tuple[int, int]:
        """Has the writer write what the file, which ends with ``earlier``, lacks, and adds it to those.

        Returns the number of the last entry there was, and how many are lost all the same.
        """
        self._begun = True
        last, lost = max((entry.n for entry in earlier), default=0), 0
        if self._outliving is None:
            return last, lost
        kept = self._outliving.unwritten.read() or {"lines": ()}
        for line in (text.encode() for text in kept["lines"]):
            entry = from_line(line)
            if entry is not None and entry.n > last:
                lost += entry.n - last - 1 if earlier else 0  # no file: it was begun anew
                lost -= entry.data["lost"] if entry.what == "log lost" else 0  # said already
                last = entry.n
                earlier.append(entry)
                self._taken_up.append(line)
                self._writer.put(line)
        missing = max(0, self._outliving.logged - last) if earlier else 0
        return last + missing, max(0, lost + missing)

    def latest_with(self, path: Path, mark: bytes) -> Entry | None:
        """``logfile.latest_with``, also of what is on its way to the file."""
        line = next((line for line in reversed(self._taken_up) if mark in line), b"")
        return from_line(line) or latest_with(path, mark)

    def number(self, n: int) -> None:
        """An entry with this number is made."""
        if self._outliving is not None:
            self._outliving.logged = n

    def keep(self, coming: Iterable[bytes] = (), size: int = KEPT_BYTES) -> None:
        """Keeps these lines, which the writer has not got yet, and the newest that it has not written."""
        if self._outliving is not None and self._begun:
            lines = [line.decode() for line in coming]
            for some in (size, SURE_BYTES):
                waiting = [line.decode() for line in self._writer.newest(some)]
                if self._outliving.unwritten.write({"lines": [*waiting, *lines]}):
                    self.whole = len(waiting) >= self._writer.waiting
                    return
            self.whole = False

    def forget(self) -> None:
        """Nothing is to be kept: the file has everything."""
        if self._outliving is not None and self._begun:
            self._outliving.unwritten.clear()
