"""The file of the take log: ``<show>.log.jsonl`` beside the show. Appended to; never rewritten or rotated.

A kill or a cut of power can tear the line that is being written and nothing else: whoever appends next starts
a line of its own, and whoever reads passes over what is torn.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from onecrew.errors import Trouble
from onecrew.log.entries import Entry, from_line

ENDING = ".log.jsonl"
LONGEST = 32 << 20
"""Bytes of a line that are still read; no entry comes near."""
LOOK_BACK = 64 << 20
"""Bytes from the end within which the latest of something is looked for."""


def log_path(show: Path) -> Path:
    """The log of a show: ``bakery.log.jsonl`` beside ``bakery.json``; a log stands for itself."""
    if show.name.endswith(ENDING):
        return show
    return show.with_name((show.stem if show.suffix == ".json" else show.name) + ENDING)


def append(path: Path, content: bytes) -> int:
    """Appends whole lines; returns how many bytes of them reached the file. Raises ``OSError``.

    A torn line at the end of the file is closed first. The bytes are with the system when this returns, so
    that the death of the process loses none of them; they are not forced onto the disk (no fsync), so that a
    cut of power may lose the last seconds.
    """
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    descriptor = os.open(path, flags | getattr(os, "O_CLOEXEC", 0), 0o666)
    try:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise OSError(None, "something that is not a file stands in its place")
        if found.st_size and _last_byte(descriptor, found.st_size) != b"\n":
            os.write(descriptor, b"\n")
        written = 0
        while written < len(content):
            try:
                written += os.write(descriptor, memoryview(content)[written:])
            except OSError:
                if written:
                    break  # the caller learns how far it went, and the reason at its next attempt
                raise
        return written
    finally:
        os.close(descriptor)


def read(path: Path) -> Iterator[Entry]:
    """The entries of a log in their order; what is torn is passed over. Raises ``Trouble``.

    An entry that was written again after a torn attempt comes once.
    """
    last = None
    for line in _lines(path):
        entry = from_line(line)
        if entry is not None and (last is None or (entry.n, entry.at) != (last.n, last.at)):
            yield entry
            last = entry


def tail(path: Path, size: int) -> list[Entry]:
    """Entries among the last ``size`` bytes, at least the last one there is; none where it cannot be read."""
    with contextlib.suppress(OSError), _regular(path) as file:
        length = file.seek(0, os.SEEK_END)
        while True:
            begin = max(0, length - size)
            file.seek(begin)
            lines = file.read(size).split(b"\n")
            found = [entry for line in lines[1 if begin else 0 :] if (entry := from_line(line)) is not None]
            if found or begin == 0 or size >= LOOK_BACK:
                return found
            size *= 4
    return []


def latest_with(path: Path, mark: bytes) -> Entry | None:
    """The latest entry whose line holds these bytes; None where there is none within ``LOOK_BACK``."""
    with contextlib.suppress(OSError), _regular(path) as file:
        length = file.seek(0, os.SEEK_END)
        size = min(length, 1 << 18)
        while size:
            file.seek(length - size)
            block = file.read(size)
            while (at := block.rfind(mark)) >= 0:
                begin = block.rfind(b"\n", 0, at) + 1
                if begin == 0 and size < min(length, LOOK_BACK):
                    break  # the line begins before the block
                end = block.find(b"\n", at)
                entry = from_line(block[begin : end if end >= 0 else len(block)])
                if entry is not None:
                    return entry
                block = block[:begin]
            if size >= min(length, LOOK_BACK):
                return None
            size = min(length, 4 * size)
    return None


def _regular(path: Path) -> BinaryIO:
    """Opens a file to read, and nothing that would keep its reader waiting. Raises ``OSError``."""
    if not stat.S_ISREG(path.stat().st_mode) and not path.is_dir():
        raise OSError(None, "it is not a file")
    return path.open("rb")


def _last_byte(descriptor: int, size: int) -> bytes:
    os.lseek(descriptor, size - 1, os.SEEK_SET)
    return os.read(descriptor, 1)


def _lines(path: Path) -> Iterator[bytes]:
    try:
        with _regular(path) as file:
            yield from whole_lines(file)
    except FileNotFoundError:
        raise Trouble(f"there is no log {path}; one begins when an engine runs the show") from None
    except IsADirectoryError:
        raise Trouble(f"{path} is a folder, not a log") from None
    except OSError as error:
        raise Trouble(f"the log {path} cannot be read ({error.strerror})") from error


def whole_lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines of an open file up to its present end; one that is too long to be an entry is passed over."""
    while line := file.readline(LONGEST):
        if line.endswith(b"\n") or len(line) < LONGEST:
            yield line
            continue
        while line and not line.endswith(b"\n"):
            line = file.readline(LONGEST)
