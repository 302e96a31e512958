"""What a command writes: to a file, or to standard output."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from onecrew.show.safe_write import check_name, write_file

STANDARD_OUTPUT = "-"
OR_REPLACE = ", or say --replace"


def write_text(
    path: Path, text: str, keep: Iterable[Path] = (), *, replace: bool = False, or_else: str = OR_REPLACE
) -> None:
    """Writes a text to a file as ``write_file`` does, or to standard output for '-'."""
    content = text.encode("utf-8", "replace")
    if str(path) != STANDARD_OUTPUT:
        write_file(path, content, keep, replace=replace, or_else=or_else)
        return
    sys.stdout.flush()
    if sys.stdout.isatty():
        sys.stdout.write(content.decode("utf-8", "replace").replace("\r\n", "\n"))
    else:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()


def check_names(
    paths: Iterable[Path | None],
    keep: Iterable[Path] = (),
    *,
    replace: bool = False,
    or_else: str = OR_REPLACE,
) -> None:
    """Raises as ``check_name`` for files that a command is going to write: asked before anything is done."""
    for path in paths:
        if path is not None and str(path) != STANDARD_OUTPUT:
            check_name(path, keep, replace=replace, or_else=or_else)
