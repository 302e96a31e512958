"""Files that are written for the person: whole or not at all, never over a show or its log, and over
another file only where that is asked for."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from itertools import count
from pathlib import Path

from onecrew.errors import Misuse, Refused, Trouble
from onecrew.show.migrate import FORMAT, FORMER_FORMAT

SHOW_MARKS = tuple(f'"{name}"'.encode() for name in (FORMAT, FORMER_FORMAT))


def write_file(
    path: Path, content: bytes, keep: Iterable[Path] = (), *, replace: bool = False, or_else: str = ""
) -> None:
    """Writes a file whose name is free, or any with ``replace``. Raises as ``check_name`` and ``Trouble``."""
    check_name(path, keep, replace=replace, or_else=or_else)
    fresh = path.with_name(f".{path.name}.{os.getpid()}.writing")
    try:
        fresh.write_bytes(content)
        fresh.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise Trouble(f"{path} cannot be written ({error.strerror})") from error


def write_beside(path: Path, content: bytes, keep: Iterable[Path] = ()) -> Path:
    """Writes a file as ``write_file`` does, where the name is taken under one with a number; returns which.

    A show, a log and one of ``keep`` are refused all the same: a number would hide the slip.
    """
    _unless_precious(path, keep)
    free = _free_name(path)
    write_file(free, content, keep)
    return free


def check_name(path: Path, keep: Iterable[Path] = (), *, replace: bool = False, or_else: str = "") -> None:
    """Raises where a file cannot have this name, so that it can be asked before anything is done.

    ``Misuse`` for one of ``keep`` or a log, ``Trouble`` for a folder or a show, whatever it is called;
    without ``replace`` ``Refused`` for any file that is there; ``or_else``: what else one could do.
    """
    _unless_precious(path, keep)
    if not replace and os.path.lexists(path):
        raise Refused(f"{path} is there already and was not written over: name another file{or_else}")


def _free_name(path: Path) -> Path:
    """The path, or with the first number from 2 on behind its name that no file has: 'sheet-2.html'."""
    if not os.path.lexists(path):
        return path
    numbered = (path.with_name(f"{path.stem}-{number}{path.suffix}") for number in count(2))
    return next(one for one in numbered if not os.path.lexists(one))


def _unless_precious(path: Path, keep: Iterable[Path]) -> None:
    try:
        folder, plain = path.is_dir(), path.is_file() or not path.exists()
    except OSError as error:  # a name that is too long
        raise Trouble(f"{path} cannot be written ({error.strerror})") from error
    if folder:
        raise Trouble(f"{path} is a folder; name a file in it")
    if not plain:
        raise Trouble(f"{path} is not a plain file and is not written over; - is standard output")
    if any(path.resolve() == kept.resolve() for kept in keep) or path.name.endswith(".log.jsonl"):
        raise Misuse(f"{path} is what is read here and is not written over; name another file")
    with contextlib.suppress(OSError), path.open("rb") as file:
        head = file.read(4096)
        if any(mark in head for mark in SHOW_MARKS):
            raise Trouble(f"{path} is a show and is not written over; name another file")
