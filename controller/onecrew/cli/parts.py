"""Parts that commands share: adding one to the parser, tables, JSON, reading show files."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from onecrew.show.profiles import ProfileShelf

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add(
    commands: Commands,
    name: str,
    run: Callable[[argparse.Namespace], int],
    *,
    does: str,
    example: str,
    more: str = "",
) -> argparse.ArgumentParser:
    """Adds one command: ``does`` is one line, ``more`` what --help adds, ``example`` one whole line."""
    description = f"{does[0].upper()}{does[1:]}." + (f"\n\n{more}" if more else "")
    command = commands.add_parser(
        name,
        help=does,
        description=description,
        epilog=f"example:\n  {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.set_defaults(run=run)
    return command


def add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON for a script")


def add_show_choice(command: argparse.ArgumentParser) -> None:
    command.add_argument("--show", type=Path, metavar="SHOW", help="which show, when several engines run")


def has_terminal() -> bool:
    """Whether there is somebody to see screens and press keys (the screens are written to standard error)."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr is not None and sys.stderr.isatty()


def print_json(value: Mapping[str, Any] | Sequence[Any]) -> None:
    """One JSON document on standard output."""
    print(json.dumps(value, ensure_ascii=False, indent=2))


def table(rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset(), indent: str = "") -> list[str]:
    """Rows as aligned lines, columns two blanks apart; ``right`` are the columns that align right."""
    if not rows:
        return []
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return lines


def all_profiles(beside: Path | None = None) -> ProfileShelf:
    """Shipped profiles, the user's own, and those in the folder ``profiles`` beside a show."""
    from onecrew.show.profiles import load_profiles

    return load_profiles(beside=beside)


def existing_show(path: Path) -> Path:
    """The resolved path of a show file; raises ``Trouble`` where there is none."""
    from onecrew.errors import Trouble

    if not path.exists():
        raise Trouble(f"there is no show {path}; `onecrew new {path}` makes one")
    if path.is_dir():
        raise Trouble(f"{path} is a folder, not a show")
    return path.resolve()
