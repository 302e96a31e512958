"""Reads calibration readings from a file: one a line, as a spreadsheet or a hand writes them; pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from onecrew.cli.meter import Metered
from onecrew.errors import DocumentFaults, Fault, Misuse
from onecrew.language import reading
from onecrew.show.light import White
from onecrew.show.show import Reading

COLUMNS: tuple[str, ...] = ("asked_cct_k", "asked_duv", "measured_cct_k", "measured_duv", "light")
_SAME = {
    "asked_cct": "asked_cct_k", "asked": "asked_cct_k",
    "asked_tint": "asked_duv",
    "measured_cct": "measured_cct_k", "cct": "measured_cct_k", "cct_k": "measured_cct_k",
    "duv": "measured_duv", "tint": "measured_duv", "measured_tint": "measured_duv",
    "lux": "light", "lx": "light", "fc": "light",
}  # fmt: skip
_OPTIONAL = {"asked_duv", "light"}
MOST_LINES = 1000


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of a file."""

    asked: White
    read: Metered


def read_lines(text: str, source: str) -> list[Line]:
    """The readings in a file's text.

    Columns are named in the first line, or are the five of ``COLUMNS`` in order; commas, semicolons, tabs or
    blanks lie between them, # begins a remark. Raises ``DocumentFaults`` with every fault, ``Misuse`` where
    there is no reading at all.
    """
    rows = [(number, row) for number, row in enumerate(_rows(text), start=1) if row]
    names = COLUMNS
    if rows and not _is_number(rows[0][1][0]):
        names = _named(rows.pop(0)[1], source)
    if not rows:
        raise Misuse(f"{source} has no reading; a line is {','.join(COLUMNS)}")
    if len(rows) > MOST_LINES:
        raise Misuse(f"{source} has more than {MOST_LINES} readings")
    faults: list[Fault] = []
    found: list[Line] = []
    for number, row in rows:
        try:
            found.append(_line(dict(zip(names, row, strict=False)), len(row), names))
        except Misuse as fault:
            what, _, fix = str(fault).partition("; ")
            faults.append(Fault(f"line {number}", what, fix or f"columns are {', '.join(names)}"))
    if faults:
        raise DocumentFaults(source, faults)
    return found


def as_lines(taken: Sequence[Reading]) -> str:
    """Readings as a file's text, which ``read_lines`` reads."""
    rows = (
        f"{one.asked_cct_k:g},{one.asked_duv:g},{one.measured_cct_k:g},{one.measured_duv:g},{one.light:g}"
        for one in taken
    )
    return "\n".join((",".join(COLUMNS), *rows)) + "\n"


def _rows(text: str) -> list[list[str]]:
    """Cells by line; a line without a reading is empty."""
    lines = [line.partition("#")[0].strip() for line in text.lstrip("\ufeff").splitlines()]
    full = [line for line in lines if line]
    divider = next((sign for sign in (";", "\t", ",") if full and sign in full[0]), None)
    if divider is None:
        return [line.split() for line in lines]
    found = [next(csv.reader(io.StringIO(line), delimiter=divider), []) for line in lines]
    rows = [[cell.strip() for cell in row] for row in found]
    # Where a semicolon or a tab divides, a comma is a decimal one.
    return [[cell.replace(",", ".") for cell in row] for row in rows] if divider != "," else rows


def _named(cells: Sequence[str], source: str) -> tuple[str, ...]:
    names = []
    for cell in cells:
        name = "_".join(cell.lower().split())
        name = _SAME.get(name, name)
        if name not in COLUMNS:
            raise Misuse(f"{source} has a column '{cell}'; columns are {', '.join(COLUMNS)}")
        names.append(name)
    missing = [name for name in COLUMNS if name not in names and name not in _OPTIONAL]
    if missing or len(set(names)) < len(names):
        raise Misuse(f"{source} needs each column once: {', '.join(missing or COLUMNS)}")
    return tuple(names)


def _line(cells: dict[str, str], width: int, names: tuple[str, ...]) -> Line:
    if width != len(names):
        raise Misuse(f"{width} columns; there are {len(names)}: {', '.join(names)}")
    asked_duv = cells.get("asked_duv") or "0"
    light = cells.get("light") or None
    white = White(
        cct_k=reading.kelvin(cells["asked_cct_k"], "asked cct"), duv=reading.tint(asked_duv, "asked tint")
    )
    cct_k = reading.kelvin(cells["measured_cct_k"], "measured cct")
    duv = reading.tint(cells["measured_duv"], "measured tint")
    value = None if light is None else reading.number(light, "light")
    if value is not None and value <= 0.0:
        raise Misuse(f"light {light} is not above 0")
    return Line(white, Metered(cct_k, duv, value))


def _is_number(cell: str) -> bool:
    return cell[:1] in tuple("+-.0123456789")
