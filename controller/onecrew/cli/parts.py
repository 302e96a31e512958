"""Parts that commands share: answers as JSON or in lines, tables, a typed line, paths of shows. Imports
nothing heavy.
"""

from __future__ import annotations

import argparse
import json
import select
import sys
import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from onecrew.cli.exits import DONE
from onecrew.errors import Trouble
from onecrew.terminal import printable

LONGEST_LINE = 4096


def has_terminal() -> bool:
    """Whether there is somebody to see screens and press keys (the screens are written to standard error)."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr is not None and sys.stderr.isatty()


def print_json(value: Mapping[str, Any] | Sequence[Any]) -> None:
    """One JSON document on standard output."""
    print(json.dumps(value, ensure_ascii=False, indent=2))


def answer(arguments: argparse.Namespace, facts: Mapping[str, Any], lines: Iterable[str]) -> int:
    """Prints the facts where ``--json`` asks for them, else the lines; returns the exit status."""
    if arguments.json:
        print_json(facts)
    else:
        print("\n".join(lines))
    return DONE


def remark(arguments: argparse.Namespace, text: str) -> None:
    """Prints what is said on the way; with ``--json`` beside the document, on standard error."""
    print(text, file=sys.stderr if arguments.json else sys.stdout, flush=True)


def typed_line(prompt: str) -> str | None:
    """What is typed after a prompt, or the next line of standard input, in small letters; None at its end."""
    if sys.stdin is None:
        return None
    sys.stderr.write(prompt)
    sys.stderr.flush()
    line = sys.stdin.readline(LONGEST_LINE)
    return line.strip().lower() if line else None


def typed_meanwhile(seconds: float) -> str | None:
    """The line that is typed within some seconds, as ``typed_line`` has it; None where none is."""
    try:
        if sys.stdin is None or not select.select([sys.stdin], [], [], seconds)[0]:
            return None
    except (OSError, ValueError):  # no file that can be waited for, as a console on Windows
        time.sleep(seconds)
        return None
    return typed_line("")


def table(rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset(), indent: str = "") -> list[str]:
    """Rows as aligned lines, columns two blanks apart; ``right`` are the columns that align right."""
    if not rows:
        return []
    rows = [[printable(cell) for cell in row] for row in rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return lines


def existing_show(path: Path) -> Path:
    """The resolved path of a show file; raises ``Trouble`` where there is none."""
    if not path.exists():
        raise Trouble(f"there is no show {path}; `onecrew new {path}` makes one")
    if path.is_dir():
        raise Trouble(f"{path} is a folder, not a show")
    return path.resolve()
