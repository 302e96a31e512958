"""What a command writes: to a file, or to standard output."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from onecrew.show.writing import write_file


def write_text(path: Path, text: str, keep: Iterable[Path] = ()) -> None:
    """Writes a text to a file as ``write_file`` does, or to standard output for '-'."""
    content = text.encode("utf-8", "replace")
    if str(path) != "-":
        write_file(path, content, keep)
        return
    sys.stdout.flush()
    if sys.stdout.isatty():
        sys.stdout.write(content.decode("utf-8", "replace").replace("\r\n", "\n"))
    else:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
