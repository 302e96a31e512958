"""``onecrew match``: levels and whites nearest to a reference, from stills of one lamp at a time."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.cli.exits import DONE, Misuse
from onecrew.cli.parts import Commands, add, add_json, all_profiles, existing_show, print_json, table

if TYPE_CHECKING:
    from onecrew.show.show import Show
    from onecrew.stills.regions import Region
    from onecrew.stills.result import Match
    from onecrew.stills.run import Run
    from onecrew.stills.shotlist import ShotList
    from onecrew.stills.stack import Plate

MORE = """\
Light adds: from stills with one lamp on at a time, camera locked, every look can be reckoned before it is
set. The list is JSON: "stills", each with file, lamp (null for the dark one), output 0–1, cct_k and duv as
they were asked; at the top curve (sRGB, BT.709, S-Log3, LogC3, linear …, or ladder for a look of your own,
with one lamp at eleven outputs) and white_balance_k. `onecrew stills` takes the stills and writes the list.

A reference of the same frame is matched all over. Any other is matched in regions that you mark in both
pictures, X,Y,W,H in pixels: first in the stills, then in the reference. A region with face or skin in its
name weighs double. Its exposure is free. --graded allows for one rising curve in the reference.

--json gives "lamps" by id: output and level 0–1, cct_k and duv as they leave the lamp, sure (whether the
level stands within about 0.15 stop), asked_cct_k, stops_error, mired_error, share (of the light, where it
shows most); "regions" by name: stops (prediction against reference) and delta_e (ΔE2000); exposure_stops
(the camera against the stills), exposure_known, reference (own or foreign), delta_e, notes.
"""


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "match",
        run,
        does="find the levels and whites nearest to a reference picture",
        more=MORE,
        example="onecrew match night-baker.json --stills stills/ --reference ref.jpg "
        "--region face=310,120,40,50:820,300,90,120",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--stills", type=Path, metavar="FOLDER", required=True, help="the run of stills")
    command.add_argument(
        "--list", type=Path, metavar="LIST.json", help="which still is which (the one JSON file in FOLDER)"
    )
    command.add_argument("--reference", type=Path, metavar="FILE", required=True, help="the picture to match")
    command.add_argument("--regions", type=Path, metavar="FILE", help="marked regions, JSON")
    command.add_argument(
        "--region", action="append", default=[], metavar="NAME=X,Y,W,H[:X,Y,W,H]", help="one marked region"
    )
    command.add_argument("--curve", metavar="NAME", help="the stills' curve, over what the list says")
    command.add_argument("--reference-curve", metavar="NAME", help="the reference's, if it has another")
    command.add_argument("--exposure", metavar="STOPS", help="the reference's exposure against the stills")
    side = command.add_mutually_exclusive_group()
    side.add_argument("--own", action="store_true", help="the reference is a frame of the stills' camera")
    side.add_argument("--foreign", action="store_true", help="it is not, even if it looks like one")
    command.add_argument("--graded", action="store_true", help="the reference was graded")
    command.add_argument("--report", type=Path, metavar="OUT.html", help="write a page with the pictures")
    command.add_argument("--store", metavar="N", help="store the result as this cue")
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    from onecrew.cli.document import current_show
    from onecrew.stills.match import match
    from onecrew.stills.run import read_run

    path = existing_show(arguments.show)
    profiles = all_profiles(path)
    show = current_show(path)
    regions = _regions(arguments)
    listed = _list(arguments.stills, arguments.list)
    stills = read_run(show, profiles, arguments.stills, listed, arguments.curve)
    reference, notes = _reference(arguments, stills)
    found = match(
        stills,
        reference,
        regions,
        own=True if arguments.own else False if arguments.foreign else None,
        exposure=_exposure(arguments.exposure),
        graded=arguments.graded,
    )
    _write(arguments, show, found, stills, regions)
    if arguments.json:
        from onecrew.stills.result import as_json

        said = as_json(found)
        print_json({**said, "notes": [*notes, *said["notes"]]})
        return DONE
    from onecrew.log.text import clean
    from onecrew.stills.result import as_lines

    for line in [*as_lines(found, table), *(f"note: {note}" for note in (*notes, *found.notes))]:
        print(clean(line) if line.strip() else "")
    return DONE


def _write(
    arguments: argparse.Namespace, show: Show, found: Match, stills: Run, regions: tuple[Region, ...]
) -> None:
    import sys

    if arguments.report is not None:
        from onecrew.cli.writing import write_text
        from onecrew.sheet.match_page import match_page

        write_text(arguments.report, match_page(show.name, found, stills, regions), keep=(arguments.show,))
        print(f"wrote {arguments.report}", file=sys.stderr)
    if arguments.store is not None:
        from onecrew.cli.document import carry_out
        from onecrew.commands.models import PutCue
        from onecrew.language.names import cue_number
        from onecrew.stills.cue import cue_of

        number = cue_number(arguments.store, show, "match --store")
        where = carry_out(arguments.show.resolve(), [PutCue(cue=cue_of(show, found, number))])
        print(f"stored as cue {number} {where}", file=sys.stderr)


def _list(folder: Path, said: Path | None) -> ShotList:
    from onecrew.errors import Trouble
    from onecrew.stills.shotlist import read_shot_list

    if not folder.is_dir():
        raise Trouble(f"there is no folder {folder} with stills")
    if said is not None:
        return read_shot_list(said)
    here = sorted(folder.glob("*.json"))
    if len(here) != 1:
        have = ", ".join(one.name for one in here) or "none"
        raise Misuse(f"say with --list which JSON file lists the stills; {folder} has {have}")
    return read_shot_list(here[0])


def _regions(arguments: argparse.Namespace) -> tuple[Region, ...]:
    from onecrew.stills.regions import read_regions, region_said

    marked = () if arguments.regions is None else read_regions(arguments.regions)
    regions = (*marked, *(region_said(text) for text in arguments.region))
    names = [region.name for region in regions]
    for name in names:
        if names.count(name) > 1:
            raise Misuse(f"two regions are called {name}; give each its own name")
    return regions


def _reference(arguments: argparse.Namespace, stills: Run) -> tuple[Plate, list[str]]:
    """The reference in linear light; one of another size was not taken by the stills' log curve."""
    from onecrew.stills.stack import read_plate
    from onecrew.stills.transfer import curve_called

    if arguments.reference_curve is not None:
        return read_plate(arguments.reference, curve_called(arguments.reference_curve)), []
    reference = read_plate(arguments.reference, stills.curve)
    other = arguments.foreign or (reference.size, reference.factor) != (stills.size, stills.factor)
    if other and (stills.curve.is_log or stills.curve.name == "ladder"):
        note = f"the reference was read as sRGB, the stills as {stills.curve.name}"
        return read_plate(arguments.reference, curve_called("sRGB")), [
            f"{note}; --reference-curve says another"
        ]
    return reference, []


def _exposure(text: str | None) -> float | None:
    from onecrew.language.reading import stops

    return None if text is None else stops(text, "--exposure")
