"""What every benchmark reports, and how it is printed.

A benchmark is a module ``bench_*.py`` in this folder with a function ``rows()`` that yields ``Row``s.
Goals are ratios and counts measured side by side in one run, so that the machine's own speed matters
little; a row whose goal is a bare time says so.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """One thing measured. ``ratio`` says how it compares with what it is measured against."""

    name: str
    measured: str
    ratio: str
    goal: str
    met: bool


def print_rows(title: str, rows: Iterable[Row]) -> bool:
    """Print rows as a table under a title; True when every goal is met."""
    rows = list(rows)
    head = ("what", "measured", "ratio", "goal", "")
    lines = [(row.name, row.measured, row.ratio, row.goal, "met" if row.met else "NOT MET") for row in rows]
    widths = [max(len(line[column]) for line in (head, *lines)) for column in range(len(head))]
    print(f"\n{title}")
    for line in (head, *lines):
        print("  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())
    return all(row.met for row in rows)


def print_table(title: str, rows: Iterable[Row]) -> bool:
    """Print rows as lines of a table in Markdown, what is missed in bold; True when every goal is met."""
    rows = list(rows)
    print(f"\n{title}\n\n| what | goal | measured |\n|---|---|---|")
    for row in rows:
        measured = ", ".join(filter(None, (row.measured, row.ratio)))
        print(f"| {row.name} | {row.goal or '–'} | {measured if row.met else f'**{measured}**'} |")
    return all(row.met for row in rows)


def best_of(call: Callable[[], object], rounds: int = 30, most_s: float = 2.0) -> float:
    """Shortest time of ``call`` in seconds over ``rounds`` runs, or as many as fit in ``most_s``."""
    call()
    best = float("inf")
    started = time.perf_counter()
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        end = time.perf_counter()
        best = min(best, end - start)
        if end - started > most_s:
            break
    return best
