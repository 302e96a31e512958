"""``onecrew match``: levels and whites nearest to a reference, from stills of one lamp at a time."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from onecrew.cli.document import has_engine
from onecrew.cli.exits import DONE
from onecrew.cli.match_inputs import Inputs, read_inputs
from onecrew.cli.match_live import serve
from onecrew.cli.match_store import now_shown, store_match
from onecrew.cli.output import check_names, write_text
from onecrew.cli.parts import existing_show, print_json, table
from onecrew.cli.reach import with_client
from onecrew.colour.arrays import FloatArray
from onecrew.engine.client import Client
from onecrew.log.text import clean
from onecrew.sheet.match_page import match_page
from onecrew.stills.match import Unmarked, match
from onecrew.stills.regions import WHOLE, Region
from onecrew.stills.result import Match, as_json, as_lines
from onecrew.stills.run import Run
from onecrew.stills.stack import Plate


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show)
    check_names([arguments.report], [path], or_else="")
    given = read_inputs(arguments, path)

    def solved(
        these: tuple[Region, ...],
        own: bool | None = given.own,
        shown: tuple[FloatArray, Plate] | None = None,
    ) -> Match:
        return match(
            given.stills, given.reference, these,
            own=own, exposure=given.exposure, graded=arguments.graded, shown=shown,
        )  # fmt: skip

    regions, notes = given.regions, list(given.notes)
    try:
        found = solved(regions)
    except Unmarked:
        if not arguments.page:
            raise
        regions = (WHOLE,)
        found = solved(regions)
        unmarked = f"{clean(given.reference.name)} shows another room"
        print(f"{unmarked}: compared as a whole until places are marked on the page", file=sys.stderr)
    if given.result is not None:
        notes.append("second round: what the still of the result missed is corrected")
        found = solved(regions, found.own, (found.predicted, given.result))
    if arguments.page:
        return serve(path, given.stills, given.reference, regions, found, solved)
    _write(arguments, path, given, found)
    if arguments.json:
        said = as_json(found)
        print_json({**said, "notes": [*notes, *said["notes"]]})
        return DONE

    for line in [*as_lines(found, table), *(f"note: {note}" for note in (*notes, *found.notes))]:
        print(clean(line) if line.strip() else "")
    return DONE


def _write(arguments: argparse.Namespace, path: Path, given: Inputs, found: Match) -> None:
    if arguments.report is not None:
        page = match_page(given.show.name, found, given.stills, given.regions)
        write_text(arguments.report, page, keep=(arguments.show,), or_else="")
        print(f"wrote {arguments.report}", file=sys.stderr)
    number = arguments.store or arguments.replace
    if number is not None:
        done = store_match(
            path, found, number, arguments.reference.name, _present(path, given.stills),
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
