"""``onecrew calibrate --like OTHER --stills``: the camera as the meter, from pictures of a grey card."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import numpy as np

from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.exits import DONE
from onecrew.cli.match_inputs import list_in
from onecrew.cli.parts import print_json, table
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import checked
from onecrew.fixtures.calibration_words import errors
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Reading, Show
from onecrew.stills.card_words import NOTHING_SURE, summary
from onecrew.stills.grey_card import MIDDLE, Metered, metered
from onecrew.stills.regions import Box, region_said


def from_stills(path: Path, arguments: argparse.Namespace) -> int:
    """Stores what a grey card's pictures say of the lamp, or checks what is stored."""
    fixture, other = pair_of(current_show(path), arguments)
    profiles, box = load_profiles(beside=path), box_of(arguments)
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
        print("\n".join(card_lines(facts)))
    return DONE


def pair_of(show: Show, arguments: argparse.Namespace) -> tuple[Fixture, Fixture]:
    """The lamp, and the one that it is to look like."""
    fixture, other = fixture_called(show, arguments.fixture), fixture_called(show, arguments.like)
    if fixture.id == other.id:
        raise Misuse(f"--like {other.id} is the lamp itself; name another one")
    return fixture, other


def box_of(arguments: argparse.Namespace) -> Box:
    """Where the card is in the pictures."""
    return MIDDLE if arguments.card is None else region_said(f"card={arguments.card}").own


def _taken(path: Path, fixture: Fixture, found: Metered) -> dict[str, Any]:
    """Stores the readings where they are worth it."""
    if found.worth_keeping:
        _put(path, fixture, found.readings)
        remarks = [
            f"stored {len(found.readings)} readings in {fixture.id}; onecrew send undo takes them back"
        ]
    else:
        remarks = [NOTHING_SURE]
    expected = [one.expected for one in found.differences]
    return card_facts(found, expected, stored=found.worth_keeping, remarks=remarks)


def _checked(path: Path, fixture: Fixture, found: Metered) -> dict[str, Any]:
    """Says what is left on camera with the readings in place; removes them where that is no less."""
    if not fixture.calibration:
        raise Misuse(f"{fixture.id} has no readings to check; take the stills without --check first")
    off_by = [row.off_by for row in checked(fixture.calibration)]
    was = float(np.mean(off_by))
    left = [one.off_by for one in found.differences]
    better = float(np.mean(left)) < was
    if not better:
        _put(path, fixture, ())
    remarks = [
        f"{fixture.id} was off by {was:.4f} in the mean without its readings; "
        + ("they stay" if better else "they made it no better, so they were removed")
    ]
    facts = card_facts(found, left, stored=better, remarks=remarks)
    return {**facts, "before": errors(off_by)}


def _put(path: Path, fixture: Fixture, readings: tuple[Reading, ...]) -> None:
    carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"calibration": readings}))])


def card_facts(found: Metered, left: list[float], *, stored: bool, remarks: list[str]) -> dict[str, Any]:
    """What the stills say of the lamp; ``left`` is Δu′v′ by white with what is kept corrected."""
    off = [one.off_by for one in found.differences]
    return {
        "stored": stored,
        "before": errors(off),
        "after": errors(left),
        "stops": found.stops,
        "whites": [
            {**reading.model_dump(mode="json"), "off_by": by, "error": one.spread, "left": rest}
            for reading, one, by, rest in zip(found.readings, found.differences, off, left, strict=True)
        ],
        "remarks": remarks,
    }


def card_lines(facts: dict[str, Any]) -> list[str]:
    """The same as a table and sentences."""
    cells = [["asked", "", "looks like", "", "off", "±", "left"]]
    for one in facts["whites"]:
        cells.append(
            [
                f"{one['asked_cct_k']:.0f} K", f"{one['asked_duv']:+.4f}",
                f"{one['measured_cct_k']:.0f} K", f"{one['measured_duv']:+.4f}",
                f"{one['off_by']:.4f}", f"{one['error']:.4f}", f"{one['left']:.4f}",
            ]
        )  # fmt: skip
    said = summary(facts["like"], facts["before"], facts["after"], facts["stops"])
    return [*table(cells, right=frozenset(range(7))), "", *said, *facts["remarks"]]
