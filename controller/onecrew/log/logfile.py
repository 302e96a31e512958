"""The file of the take log: ``<show>.log.jsonl`` beside the show. Appended to; never rewritten or rotated.

A kill or a cut of power can tear the line that is being written and nothing else: whoever appends next starts
a line of its own, and whoever reads passes over what is torn.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

from onecrew.errors import Trouble
from onecrew.log.entries import Entry, from_line
from onecrew.plain_files import plain_status

ENDING = ".log.jsonl"
LONGEST = 32 << 20
"""Bytes of a line that are still read; no entry comes near."""
BLOCK = 1 << 16
"""Bytes that are read at a time when reading from the end."""
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
        size = plain_status(descriptor).st_size
        if size and _last_byte(descriptor, size) != b"\n":
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


def read(path: Path, torn: Callable[[], None] = lambda: None) -> Iterator[Entry]:
    """The entries of a log in their order; what is torn is passed over. Raises ``Trouble``.

    An entry that was written again after a torn attempt comes once; ``torn`` is called for a line that is
    torn and was not.
    """
    last, half = None, None
    for line in _lines(path):
        entry = from_line(line)
        if half is not None and (entry is None or not half.startswith(f'{{"n":{entry.n},'.encode())):
            torn()
        half = line if entry is None and line.strip() else None
        if entry is not None and (last is None or (entry.n, entry.at) != (last.n, last.at)):
            yield entry
            last = entry
    if half is not None:
        torn()


def newest(path: Path, count: int, kinds: Sequence[str] = ()) -> tuple[list[Entry], int]:
    """The ``count`` newest entries of these kinds (none: of any), and where the last whole line ends.

    Reads from the end, and no further back than it must. Raises ``Trouble``.
    """
    mark = re.compile(rb'"kind"\s*:\s*"(?:%s)"' % "|".join(map(re.escape, kinds)).encode()) if kinds else None
    found: list[Entry] = []
    last = None
    with _opened(path) as file:
        end = _end_of_lines(file)
        for _, line in _lines_back(file, end):
            if mark is not None and not mark.search(line):
                continue  # without reading it all: the newest of a rare kind may be far back
            entry = from_line(line)
            if entry is None or (last is not None and (entry.n, entry.at) == (last.n, last.at)):
                continue
            last = entry
            if not kinds or entry.kind in kinds:
                found.append(entry)
                if len(found) >= count:
                    break
    return found[::-1], end


def tail(path: Path, size: int) -> list[Entry]:
    """Entries among the last ``size`` bytes, at least the last one there is; none where it cannot be read."""
    found: list[Entry] = []
    with contextlib.suppress(OSError), _regular(path) as file:
        end = file.seek(0, os.SEEK_END)
        for begin, line in _lines_back(file, end):
            if begin < end - (size if found else LOOK_BACK):
                break
            if (entry := from_line(line)) is not None:
                found.append(entry)
    return found[::-1]


def latest_with(path: Path, mark: bytes) -> Entry | None:
    """The latest entry whose line holds these bytes; None where there is none within ``LOOK_BACK``."""
    with contextlib.suppress(OSError), _regular(path) as file:
        end = file.seek(0, os.SEEK_END)
        for begin, line in _lines_back(file, end, mark):
            if begin < end - LOOK_BACK:
                break
            if mark in line and (entry := from_line(line)) is not None:
                return entry
    return None


def _regular(path: Path) -> BinaryIO:
    """Opens a file to read, and nothing that would keep its reader waiting. Raises ``OSError``."""
    plain_status(path)
    return path.open("rb")


def _last_byte(descriptor: int, size: int) -> bytes:
    os.lseek(descriptor, size - 1, os.SEEK_SET)
    return os.read(descriptor, 1)


def _end_of_lines(file: BinaryIO) -> int:
    """Where the last line that is written whole ends; whatever follows is torn, or still being written."""
    at = file.seek(0, os.SEEK_END)
    while at:
        begin = max(0, at - BLOCK)
        file.seek(begin)
        if (found := file.read(at - begin).rfind(b"\n")) >= 0:
            return begin + found + 1
        at = begin
    return 0


def _lines_back(file: BinaryIO, end: int, mark: bytes = b"\n") -> Iterator[tuple[int, bytes]]:
    """The lines before ``end`` with where they begin, the last one first.

    Those of a block without ``mark`` come as one, since nobody looks for anything in them.
    """
    size = BLOCK
    while end:
        begin = max(0, end - size)
        file.seek(begin)
        block = file.read(end - begin)
        start = block.find(b"\n", 0, -1) + 1 if begin else 0
        if begin and not start:  # a line as long as that
            size *= 4
            continue
        at, size = end, BLOCK
        end = begin + start
        for line in reversed(block[start:].split(b"\n")) if mark in block else (block[start:],):
            at -= len(line)
            yield at, line
            at -= 1


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    try:
        with _regular(path) as file:
            yield file
    except FileNotFoundError:
        raise Trouble(f"there is no log {path}; one begins when an engine runs the show") from None
    except OSError as error:
        raise Trouble(f"the log {path} cannot be read ({error.strerror})") from error


def _lines(path: Path) -> Iterator[bytes]:
    with _opened(path) as file:
        yield from whole_lines(file)


def whole_lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines of an open file up to its present end; one that is too long to be an entry is passed over."""
    while line := file.readline(LONGEST):
        if line.endswith(b"\n") or len(line) < LONGEST:
            yield line
            continue
        while line and not line.endswith(b"\n"):
            line = file.readline(LONGEST)
