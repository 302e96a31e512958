"""What a calibration found, in lines to read and in facts for a script."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from onecrew.cli.parts import table
from onecrew.fixtures.calibration_plan import checked, doubts
from onecrew.fixtures.calibration_words import errors, left, summary
from onecrew.fixtures.closing_check import Closing
from onecrew.language.saying import counted, figure
from onecrew.show.show import Reading


def facts(name: str, taken: Sequence[Reading], *, stored: bool, remarks: Sequence[str]) -> dict[str, Any]:
    """The readings with their errors in Δu′v′; ``after`` is each reading predicted from the others."""
    rows = checked(taken)
    return {
        "fixture": name,
        "stored": stored,
        "readings": [
            {**row.reading.model_dump(mode="json"), "off_by": row.off_by, "left": row.left} for row in rows
        ],
        "before": errors([row.off_by for row in rows]),
        "after": errors(left(rows)),
        "remarks": [*remarks, *doubts(rows)],
    }


def lines(taken: Sequence[Reading]) -> list[str]:
    """A table of the readings, and how far the lamp was off before and will be after."""
    rows = checked(taken)
    cells = [["asked", "", "read", "", "light", "off", "left"]]
    for row in rows:
        one = row.reading
        cells.append(
            [
                f"{one.asked_cct_k:.0f} K",
                f"{one.asked_duv:+.4f}",
                f"{one.measured_cct_k:.0f} K",
                f"{one.measured_duv:+.4f}",
                figure(one.light, 4),
                f"{row.off_by:.4f}",
                "" if row.left is None else f"{row.left:.4f}",
            ]
        )
    return [*table(cells, right=frozenset(range(7))), "", *summary(rows), *doubts(rows)]


def stored(name: str, readings: int) -> str:
    return f"stored {counted(readings, 'reading')} in {name}"


def closing_facts(found: Closing | None) -> dict[str, Any] | None:
    """What a closing check left, Δu′v′ and stops by light; None where none was made."""
    if found is None:
        return None
    return {
        "worse": found.worse,
        "before": [{"off_by": one.uv, "stops": one.stops} for one in found.before],
        "after": [{"off_by": one.uv, "stops": one.stops} for one in found.after],
    }
