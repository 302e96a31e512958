"""Reads calibration readings from a file: one a line, as a spreadsheet or a hand writes them; pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from onecrew.errors import DocumentFaults, Fault, Misuse
from onecrew.fixtures.meter import Metered, Spot, disagreeing, mean_of, spot
from onecrew.language import reading
from onecrew.show.light import White
from onecrew.show.show import EmitterReading, Reading

COLUMNS: tuple[str, ...] = ("asked_cct_k", "asked_duv", "measured_cct_k", "measured_duv", "light")
EMITTER_COLUMNS: tuple[str, ...] = ("emitter", "level", "x", "y", "light")
_SAME = {
    "asked_cct": "asked_cct_k", "asked": "asked_cct_k",
    "asked_tint": "asked_duv",
    "measured_cct": "measured_cct_k", "cct": "measured_cct_k", "cct_k": "measured_cct_k",
    "duv": "measured_duv", "tint": "measured_duv", "measured_tint": "measured_duv",
    "lux": "light", "lx": "light", "fc": "light",
}  # fmt: skip
_OPTIONAL = {(COLUMNS, "asked_duv"), (COLUMNS, "light"), (EMITTER_COLUMNS, "level")}
MOST_LINES = 1000
CHECK = "check"
"""The word that marks a check reading."""


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of a file."""

    asked: White
    read: Metered
    check: bool = False
    """Whether it only says how good the others are."""


def read_lines(text: str, source: str) -> list[Line]:
    """The readings in a file's text.

    Columns are named in the first line, or are the five of ``COLUMNS`` in order; commas, semicolons, tabs or
    blanks lie between them, # begins a remark. ``check`` at the end of a line marks a check reading. Raises
    ``DocumentFaults`` with every fault, ``Misuse`` where there is no reading at all.
    """
    return _each(text, source, COLUMNS, _line)


def read_emitter_lines(
    text: str, source: str, emitters: Sequence[str]
) -> tuple[tuple[EmitterReading, ...], list[str]]:
    """The readings of emitters in a file's text, and a sentence on those that do not agree.

    Columns are those of ``EMITTER_COLUMNS``; several lines of one emitter and level are averaged. Raises as
    ``read_lines`` does, also for an emitter that is none of ``emitters`` or was not read at full.
    """

    def line(cells: dict[str, str]) -> tuple[str, float, Spot]:
        if CHECK in cells:
            raise Misuse("an emitter cannot be a check reading; check readings are of whites")
        name = cells["emitter"].lower()
        if name not in emitters:
            raise Misuse(f"the lamp has no emitter '{cells['emitter']}'; it has {', '.join(emitters)}")
        level = reading.level(cells.get("level") or "100%")
        if level == 0.0:
            raise Misuse("level is above 0; at 0 there is nothing to read")
        return name, level, spot(f"x={cells['x']} y={cells['y']} light={cells['light']}")

    read: dict[tuple[str, float], list[Spot]] = {}
    for name, level, one in _each(text, source, EMITTER_COLUMNS, line):
        read.setdefault((name, level), []).append(one)
    remarks = []
    for (name, level), spots in read.items():
        if (name, 1.0) not in read:
            raise Misuse(f"{source} has {name} at {100 * level:.3g} %, not at full; add its reading at 100 %")
        if out := mean_of(spots)[1]:
            remarks.append(disagreeing(f"{name} at {100 * level:.3g} %", spots, out))
    taken = tuple(
        EmitterReading(emitter=name, level=level, xy=mean.xy, light=mean.light)
        for (name, level), spots in read.items()
        for mean in [mean_of(spots)[0]]
    )
    return taken, remarks


def emitter_lines(taken: Sequence[EmitterReading]) -> str:
    """Readings of emitters as a file's text, which ``read_emitter_lines`` reads."""
    rows = (
        f"{one.emitter},{100 * one.level:.6g}%,{one.xy[0]:.6g},{one.xy[1]:.6g},{one.light:g}" for one in taken
    )
    return "\n".join((",".join(EMITTER_COLUMNS), *rows)) + "\n"


T = TypeVar("T")


def _each(text: str, source: str, columns: tuple[str, ...], read: Callable[[dict[str, str]], T]) -> list[T]:
    """What ``read`` makes of the cells of each line."""
    rows = [(number, row) for number, row in enumerate(_rows(text), start=1) if row]
    names = columns
    if rows and not any(_is_number(cell) for cell in rows[0][1]):
        names = _named(rows.pop(0)[1], source, columns)
    if not rows:
        raise Misuse(f"{source} has no reading; a line is {','.join(columns)}")
    if len(rows) > MOST_LINES:
        raise Misuse(f"{source} has more than {MOST_LINES} readings")
    faults: list[Fault] = []
    found: list[T] = []
    for number, row in rows:
        try:
            marked = {CHECK: row.pop()} if len(row) == len(names) + 1 and row[-1].lower() == CHECK else {}
            if len(row) != len(names):
                raise Misuse(f"{len(row)} columns; there are {len(names)}: {', '.join(names)}")
            found.append(read(dict(zip(names, row, strict=True)) | marked))
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


def _named(cells: Sequence[str], source: str, columns: tuple[str, ...]) -> tuple[str, ...]:
    names = []
    for cell in cells:
        name = "_".join(cell.lower().split())
        name = name if name in columns else _SAME.get(name, name)
        if name not in columns:
            raise Misuse(f"{source} has a column '{cell}'; columns are {', '.join(columns)}")
        names.append(name)
    missing = [name for name in columns if name not in names and (columns, name) not in _OPTIONAL]
    if missing or len(set(names)) < len(names):
        raise Misuse(f"{source} needs each column once: {', '.join(missing or columns)}")
    return tuple(names)


def _line(cells: dict[str, str]) -> Line:
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
    return Line(white, Metered(cct_k, duv, value), CHECK in cells)


def _is_number(cell: str) -> bool:
    return cell[:1] in tuple("+-.0123456789")
