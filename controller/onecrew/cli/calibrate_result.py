"""What a calibration found, in lines to read and in facts for a script."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from onecrew.cli.parts import table
from onecrew.fixtures.calibration_plan import ENOUGH_TO_CHECK, Checked, checked, doubts
from onecrew.fixtures.closing_check import Closing, Left
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
        "before": _errors([row.off_by for row in rows]),
        "after": _errors(_left(rows)),
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
                f"{one.light:.4g}",
                f"{row.off_by:.4f}",
                "" if row.left is None else f"{row.left:.4f}",
            ]
        )
    return [*table(cells, right=frozenset(range(7))), "", *_summary(rows), *doubts(rows)]


def _summary(rows: Sequence[Checked]) -> list[str]:
    before = _errors([row.off_by for row in rows])
    said = [f"before: {_said(before)} off in u′v′"]
    after = _errors(_left(rows))
    if after is None:
        return [
            *said,
            f"after: exact at the whites read; {ENOUGH_TO_CHECK} readings would show the error in between",
        ]
    return [*said, f"after:  {_said(after)}, each reading predicted from the other readings"]


def _left(rows: Sequence[Checked]) -> list[float]:
    return [row.left for row in rows if row.left is not None]


def _errors(values: Sequence[float]) -> dict[str, float] | None:
    return {"mean": sum(values) / len(values), "worst": max(values)} if values else None


def _said(errors: dict[str, float] | None) -> str:
    return "" if errors is None else f"mean {errors['mean']:.4f}, worst {errors['worst']:.4f}"


def stored(name: str, readings: int) -> str:
    return f"stored {count(readings)} in {name}"


def count(readings: int) -> str:
    return "1 reading" if readings == 1 else f"{readings} readings"


def closing_facts(found: Closing | None) -> dict[str, Any] | None:
    """What a closing check left, Δu′v′ and stops by light; None where none was made."""
    if found is None:
        return None
    return {
        "worse": found.worse,
        "before": [{"off_by": one.uv, "stops": one.stops} for one in found.before],
        "after": [{"off_by": one.uv, "stops": one.stops} for one in found.after],
    }


def closing_lines(found: Closing) -> list[str]:
    """The same in words."""
    before, after = _left_said(found.before), _left_said(found.after)
    said = ["", f"closing check, before: {before}", f"               after:  {after}"]
    if found.worse:
        said.append("the readings make it worse where they were not taken: nothing is stored without a yes")
    return said


def _left_said(left: Sequence[Left]) -> str:
    said = _said(_errors([one.uv for one in left])) + " off in u′v′"
    stops = [one.stops for one in left if one.stops is not None]
    return said + "".join(f", {one:+.2f} stops when dimmed" for one in stops)
