"""Libraries: on Linux, what was read of them and is not needed at present is given back: 2 to 6 MB of memory.

The system maps it again, or reads it from the file, as soon as it is needed.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterable
from pathlib import Path

MADV_DONTNEED = 4
"""madvise(2). What was written, and has no file behind it, would be lost by this."""
WRITTEN = ("Anonymous:", "Swap:")
LIBRARY = ("r--p", "r-xp")
"""The rights of what is mapped of a library and may not be written."""
_noted: list[tuple[int, int]] = []


def note_libraries() -> None:
    """Notes which libraries there are, which stay for good. To be called while there is one thread: one that
    another is just loading may be written yet."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError), Path("/proc/self/smaps").open(errors="replace") as smaps:
            _noted[:] = unchanged(smaps)


def give_back() -> None:
    """Gives back all that was read of the libraries that were noted, in this process or in what forked it."""
    with contextlib.suppress(ImportError, OSError, AttributeError):  # another C library: all stays
        import ctypes

        advise = ctypes.CDLL(None).madvise
        for start, end in _noted:
            advise(ctypes.c_void_p(start), ctypes.c_size_t(end - start), MADV_DONTNEED)


def unchanged(smaps: Iterable[str]) -> list[tuple[int, int]]:
    """Where libraries are in memory as they are in their files: nothing may be written there, and nothing
    was, as relocations are. ``smaps``: the lines of proc(5).

    A library is a file of which some may be executed: no other is sure to stay where it is.
    """
    libraries: set[str] = set()
    mapped: list[tuple[int, int, str]] = []
    unwritten: dict[int, int] = {}
    start = 0
    for line in smaps:
        name, _, rest = line.partition(" ")
        if name in WRITTEN:
            unwritten[start] = unwritten.get(start, 0) + (rest.split() == ["0", "kB"])
        elif not name.endswith(":"):
            # 7f1a2b000000-7f1a2b021000 r-xp 00002000 08:01 1234    /usr/lib/libz.so.1
            start, end = (int(number, 16) for number in name.split("-"))
            rights, _, _, inode, *file = rest.split(maxsplit=4)
            if inode != "0" and rights in LIBRARY and file:
                mapped.append((start, end, file[0]))
                libraries.update(file if "x" in rights else ())
    return [
        (start, end)
        for start, end, file in mapped
        if file in libraries and unwritten.get(start) == len(WRITTEN)
    ]
