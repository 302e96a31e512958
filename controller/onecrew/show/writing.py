"""Files that are written for the person: whole or not at all, and never over a show or its log."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from onecrew.errors import Misuse, Trouble
from onecrew.show.migrate import FORMAT, FORMER_FORMAT

SHOW_MARKS = tuple(f'"{name}"'.encode() for name in (FORMAT, FORMER_FORMAT))


def write_file(path: Path, content: bytes, keep: Iterable[Path] = ()) -> None:
    """Writes a file. Raises ``Trouble``; ``Misuse`` for one of ``keep``.

    A file that is a show or a log is never written over, whatever it is called.
    """
    _unless_precious(path, keep)
    fresh = path.with_name(f".{path.name}.{os.getpid()}.writing")
    try:
        fresh.write_bytes(content)
        fresh.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise Trouble(f"{path} cannot be written ({error.strerror})") from error


def _unless_precious(path: Path, keep: Iterable[Path]) -> None:
    if path.is_dir():
        raise Trouble(f"{path} is a folder; name a file in it")
    if any(path.resolve() == kept.resolve() for kept in keep) or path.name.endswith(".log.jsonl"):
        raise Misuse(f"{path} is what is read here and is not written over; name another file")
    with contextlib.suppress(OSError), path.open("rb") as file:
        head = file.read(4096)
        if any(mark in head for mark in SHOW_MARKS):
            raise Trouble(f"{path} is a show and is not written over; name another file")
