"""The log as a table, one row an entry, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from onecrew.log.takes import Take, Timed
from onecrew.log.text import clean
from onecrew.log.timecode import Rate, frame_at, label

HEAD = (
    "n", "utc", "local_date", "local_time", "monotonic_s", "kind", "what", "text",
    "setup", "take", "take_s", "timecode",
)  # fmt: skip
FORMULA = frozenset("=+-@\t\r")
"""A cell that begins with one of these is a formula to some spreadsheets."""


def as_csv(
    entries: Sequence[Timed], takes: Sequence[Take], rate: Rate | None, zero_t: float, sync_s: float
) -> str:
    """The entries as CSV (RFC 4180) with a head line.

    ``take_s`` counts from the start of the take; ``timecode`` is that of the footage, where ``zero_t`` of the
    log stands at ``sync_s``.
    """
    of_take = {timed.entry.n: take for take in takes for timed in take.events}
    sheet = io.StringIO(newline="")
    table = csv.writer(sheet)
    table.writerow(HEAD)
    for timed in entries:
        entry = timed.entry
        take = of_take.get(entry.n)
        row: list[object] = [
            entry.n,
            entry.utc,
            entry.local.strftime("%Y-%m-%d"),
            entry.local.isoformat(timespec="milliseconds")[11:23],
            f"{entry.mono:.6f}",
            entry.kind,
            entry.what,
            cell(entry.text),
        ]
        if take is None:
            row += ["", "", "", ""]
        else:
            after = max(0.0, timed.t - take.start.t)
            at = max(0.0, timed.t - zero_t + sync_s)
            code = label(frame_at(at, rate), rate) if rate is not None else ""
            row += [cell(take.setup), take.number, f"{after:.3f}", code]
        table.writerow(row)
    return sheet.getvalue()


def cell(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    shown = clean(text)
    return f"'{shown}" if shown[:1] in FORMULA else shown
