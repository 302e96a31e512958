"""Terminal: the one place where text leaves for a screen, and what it may hold when it does.

Text from files, from the network and from people can hold what a terminal obeys instead of showing: control
characters, the C1 controls, marks that turn the direction of writing. Everything that is written while
``guarded_output`` lasts has them as codes (``\\u001b``), in the form of JSON, so that JSON stays JSON.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import sys
import unicodedata
from collections.abc import Iterator
from typing import Any, TextIO

ACTING = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories of characters that are obeyed, or show nothing: controls, formats, halves of pairs,
private and unassigned ones, line and paragraph separators."""
JOINERS = frozenset("\u200c\u200d")
"""Formats that only choose the shape of the letters or pictures beside them."""


def acts(char: str) -> bool:
    """Whether a terminal would obey this character, or show nothing for it."""
    return char not in JOINERS and unicodedata.category(char) in ACTING


def printable(text: str, keep: str = "") -> str:
    """Text on one line: characters that act are written as their codes, but for those to ``keep``.

    >>> printable("Oven\\x1b[2J")
    'Oven\\\\u001b[2J'
    """
    if text.isprintable():
        return text
    return "".join(json.dumps(char)[1:-1] if acts(char) and char not in keep else char for char in text)


class PrintableStream:
    """A text stream that writes what is ``printable``, and line ends; all else is the stream's own."""

    def __init__(self, stream: TextIO) -> None:
        self.raw = stream

    def write(self, text: str) -> int:
        self.raw.write(printable(text, keep="\n"))
        return len(text)

    def writelines(self, lines: Any) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.raw, name)


@contextlib.contextmanager
def guarded_output() -> Iterator[None]:
    """Guards standard output and standard error until it ends."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (
        stream if stream is None or isinstance(stream, PrintableStream) else PrintableStream(stream)
        for stream in before
    )
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def write_over(text: str) -> None:
    """Writes a line of standard error over the one that stands there, which a line end would leave.

    Where that is no terminal it gets a line of its own.
    """
    stream = sys.stderr.raw if isinstance(sys.stderr, PrintableStream) else sys.stderr
    if stream.isatty():
        width = shutil.get_terminal_size().columns - 1  # a line that wraps could not be written over
        stream.write(f"\r{printable(text)[:width]}\x1b[K")
    else:
        stream.write(f"{printable(text)}\n")
    stream.flush()


def write_raw(text: str) -> None:
    """Writes to standard output what is meant for the terminal to obey. Whoever calls this has put text from
    elsewhere through ``printable``."""
    stream = sys.stdout.raw if isinstance(sys.stdout, PrintableStream) else sys.stdout
    stream.write(text)
    stream.flush()
