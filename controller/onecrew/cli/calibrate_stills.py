"""``onecrew calibrate --like OTHER --stills``: the camera as the meter, from pictures of a grey card."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import numpy as np

from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.exits import DONE
from onecrew.cli.match import list_in
from onecrew.cli.parts import print_json, table
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import checked
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Reading
from onecrew.stills.camera_meter import Difference
from onecrew.stills.grey_card import MIDDLE, Metered, metered
from onecrew.stills.regions import region_said


def from_stills(path: Path, arguments: argparse.Namespace) -> int:
    """Stores what a grey card's pictures say of the lamp, or checks what is stored."""
    show, profiles = current_show(path), load_profiles(beside=path)
    fixture, other = fixture_called(show, arguments.fixture), fixture_called(show, arguments.like)
    if fixture.id == other.id:
        raise Misuse(f"--like {other.id} is the lamp itself; name another one")
    box = MIDDLE if arguments.card is None else region_said(f"card={arguments.card}").own
    listed = list_in(arguments.stills, arguments.list)
    found = metered(
        fixture, other, profiles, arguments.stills, listed, box, arguments.curve, corrected=arguments.check
    )
    facts = _checked(path, fixture, found) if arguments.check else _taken(path, fixture, found)
    facts = {"fixture": fixture.id, "like": other.id, **facts}
    facts["remarks"] = [*found.notes, *facts["remarks"]]
    if arguments.json:
        print_json(facts)
    else:
        print("\n".join(_lines(facts)))
    return DONE


def _taken(path: Path, fixture: Fixture, found: Metered) -> dict[str, Any]:
    """Stores the readings where they are worth it."""
    if found.worth_keeping:
        _put(path, fixture, found.readings)
        remarks = [
            f"stored {len(found.readings)} readings in {fixture.id}; onecrew send undo takes them back"
        ]
    else:
        remarks = ["no difference is surer than the stills are noisy, so nothing was stored"]
    left = [float(np.hypot(*(one.shift - one.kept))) for one in found.differences]
    expected = [
        float(np.hypot(rest, _spread(one))) for rest, one in zip(left, found.differences, strict=True)
    ]
    return _facts(found, expected, stored=found.worth_keeping, remarks=remarks)


def _checked(path: Path, fixture: Fixture, found: Metered) -> dict[str, Any]:
    """Says what is left on camera with the readings in place; removes them where that is no less."""
    if not fixture.calibration:
        raise Misuse(f"{fixture.id} has no readings to check; take the stills without --check first")
    off_by = [row.off_by for row in checked(fixture.calibration)]
    was = float(np.mean(off_by))
    left = [float(np.hypot(*one.shift)) for one in found.differences]
    better = float(np.mean(left)) < was
    if not better:
        _put(path, fixture, ())
    remarks = [
        f"{fixture.id} was off by {was:.4f} in the mean without its readings; "
        + ("they stay" if better else "they made it no better, so they were removed")
    ]
    facts = _facts(found, left, stored=better, remarks=remarks)
    return {
        **facts,
        "before": {"mean": was, "worst": max(off_by)},
    }


def _put(path: Path, fixture: Fixture, readings: tuple[Reading, ...]) -> None:
    carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"calibration": readings}))])


def _spread(one: Difference) -> float:
    return float(np.sqrt(np.trace(one.error)))


def _facts(found: Metered, left: list[float], *, stored: bool, remarks: list[str]) -> dict[str, Any]:
    off = [float(np.hypot(*one.shift)) for one in found.differences]
    return {
        "stored": stored,
        "before": {"mean": float(np.mean(off)), "worst": max(off)},
        "after": {"mean": float(np.mean(left)), "worst": max(left)},
        "stops": found.stops,
        "whites": [
            {**reading.model_dump(mode="json"), "off_by": by, "error": _spread(one), "left": rest}
            for reading, one, by, rest in zip(found.readings, found.differences, off, left, strict=True)
        ],
        "remarks": remarks,
    }


def _lines(facts: dict[str, Any]) -> list[str]:
    cells = [["asked", "", "looks like", "", "off", "±", "left"]]
    for one in facts["whites"]:
        cells.append(
            [
                f"{one['asked_cct_k']:.0f} K", f"{one['asked_duv']:+.4f}",
                f"{one['measured_cct_k']:.0f} K", f"{one['measured_duv']:+.4f}",
                f"{one['off_by']:.4f}", f"{one['error']:.4f}", f"{one['left']:.4f}",
            ]
        )  # fmt: skip
    before, after = (
        f"mean {one['mean']:.4f}, worst {one['worst']:.4f}" for one in (facts["before"], facts["after"])
    )
    return [
        *table(cells, right=frozenset(range(7))),
        "",
        f"before: {before} off from {facts['like']} on camera, in u′v′",
        f"after:  {after}",
        f"light:  {facts['stops']:+.2f} stops against {facts['like']} at the card, at the same output",
        *facts["remarks"],
    ]
