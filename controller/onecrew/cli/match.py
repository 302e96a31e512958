"""``onecrew match``: levels and whites nearest to a reference, from stills of one lamp at a time."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from onecrew.cli.document import current_show, has_engine
from onecrew.cli.exits import DONE
from onecrew.cli.match_live import serve
from onecrew.cli.match_store import now_shown, store_match
from onecrew.cli.output import check_names, write_text
from onecrew.cli.parts import existing_show, print_json, table
from onecrew.cli.reach import with_client
from onecrew.colour.arrays import FloatArray
from onecrew.engine.client import Client
from onecrew.errors import Misuse, Trouble
from onecrew.language.reading import kelvin, stops
from onecrew.log.text import clean
from onecrew.sheet.match_page import match_page
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.stills.match import balanced, match
from onecrew.stills.regions import Region, marked
from onecrew.stills.result import Match, as_json, as_lines
from onecrew.stills.run import Run, read_run
from onecrew.stills.shotlist import ShotList, read_shot_list
from onecrew.stills.stack import Plate, read_plate
from onecrew.stills.transfer import curve_called


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show)
    profiles = load_profiles(beside=path)
    check_names([arguments.report], [path], or_else="")
    show = current_show(path)
    regions = marked(arguments.regions, arguments.region)
    listed = list_in(arguments.stills, arguments.list)
    stills = read_run(show, profiles, arguments.stills, listed, arguments.curve)
    reference, notes = _reference(arguments, stills)
    exposure = _exposure(arguments.exposure)
    own = True if arguments.own else False if arguments.foreign else None

    def solved(
        these: tuple[Region, ...], own: bool | None = own, shown: tuple[FloatArray, Plate] | None = None
    ) -> Match:
        return match(
            stills, reference, these, own=own, exposure=exposure, graded=arguments.graded, shown=shown
        )

    found = solved(regions)
    if arguments.result is not None:
        result = read_plate(arguments.result, stills.curve)
        notes.append("second round: what the still of the result missed is corrected")
        found = solved(regions, found.own, (found.predicted, result))
    if arguments.page:
        return serve(path, stills, reference, regions, found, solved)
    _write(arguments, path, show, found, stills, regions)
    if arguments.json:
        said = as_json(found)
        print_json({**said, "notes": [*notes, *said["notes"]]})
        return DONE

    for line in [*as_lines(found, table), *(f"note: {note}" for note in (*notes, *found.notes))]:
        print(clean(line) if line.strip() else "")
    return DONE


def _write(
    arguments: argparse.Namespace,
    path: Path,
    show: Show,
    found: Match,
    stills: Run,
    regions: tuple[Region, ...],
) -> None:
    if arguments.report is not None:
        page = match_page(show.name, found, stills, regions)
        write_text(arguments.report, page, keep=(arguments.show,), or_else="")
        print(f"wrote {arguments.report}", file=sys.stderr)
    number = arguments.store or arguments.replace
    if number is not None:
        done = store_match(
            path, found, number, arguments.reference.name, _present(path, stills),
            replace=arguments.replace is not None,
            or_else=f", or replace its look: --replace {number}",
        )  # fmt: skip
        print(done, file=sys.stderr)


def _present(path: Path, stills: Run) -> FloatArray | None:
    """The picture of what shows now; None where no engine says so."""
    if not has_engine(path):
        return None

    async def ask(client: Client) -> FloatArray:
        assert client.snapshot is not None  # attach waits for it
        return now_shown(client.snapshot.lights, stills)

    return with_client(path, ask)


def list_in(folder: Path, said: Path | None) -> ShotList:
    """Return the list of a folder of stills: the one that is said, or the one JSON file there."""
    if not folder.is_dir():
        raise Trouble(f"there is no folder {folder} with stills")
    if said is not None:
        return read_shot_list(said)
    here = sorted(folder.glob("*.json"))
    if len(here) != 1:
        have = ", ".join(one.name for one in here) or "none"
        raise Misuse(f"say with --list which JSON file lists the stills; {folder} has {have}")
    return read_shot_list(here[0])


def _reference(arguments: argparse.Namespace, stills: Run) -> tuple[Plate, list[str]]:
    """The reference in linear light, balanced as the stills are."""
    reference, notes = _read_reference(arguments, stills)
    if arguments.reference_white is None:
        return reference, notes
    of_k = kelvin(arguments.reference_white, "--reference-white")
    to_k = stills.white_balance_k
    if to_k is None:
        raise Misuse(
            "the list does not say the white balance of the stills, which --reference-white is held against; "
            'add "white_balance_k" to it'
        )
    notes.append(f"the reference was balanced for {of_k:.0f} K and is read as one for {to_k:.0f} K")
    return balanced(reference, of_k, to_k), notes


def _read_reference(arguments: argparse.Namespace, stills: Run) -> tuple[Plate, list[str]]:
    """The reference in linear light; one of another size was not taken by the stills' log curve."""
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
    return None if text is None else stops(text, "--exposure")
