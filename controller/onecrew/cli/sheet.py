"""``onecrew sheet``: a look on paper, from what was sent to the lamps."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.cli.exits import DONE, Misuse
from onecrew.cli.parts import Commands, add, all_profiles, existing_show

if TYPE_CHECKING:
    from onecrew.engine.client import Client
    from onecrew.log.moment import Moment

FORMS = (".html", ".md", ".csv", ".json")


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "sheet",
        run,
        does="write a look sheet: every lamp, the plan of the room, the camera, the cautions",
        more="--take shows the first look of that take that stood still, from the log, or what was sent\n"
        "--at so many seconds into it; --cue shows a cue as it would be sent; with neither, it is what\n"
        "the running engine sends now. The ending of FILE says the form: .html is one page that needs no\n"
        "other file and prints on A4; .md; .csv, a row a lamp;\n"
        ".json, from which `onecrew restore` makes a cue again.",
        example="onecrew sheet night-baker.json --take last --to night-baker.html",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--cue", metavar="N", help="a cue of the show")
    command.add_argument(
        "--take", metavar="N", help="the first look of a take that stood still, by its number, or last"
    )
    command.add_argument(
        "--at", type=float, metavar="SECONDS", help="the state last written by then, from the take's start"
    )
    command.add_argument("--setup", metavar="S", help="which setup the take is of")
    command.add_argument("--to", type=Path, metavar="FILE", required=True, help=".html, .md, .csv or .json")


def run(arguments: argparse.Namespace) -> int:
    from onecrew.cli.writing import write_text
    from onecrew.log.logfile import log_path
    from onecrew.log.text import clean

    if arguments.to.suffix.lower() not in FORMS:
        raise Misuse(f"{arguments.to} has no ending that says its form; end it in {', '.join(FORMS)}")
    if arguments.cue is not None and arguments.take is not None:
        raise Misuse("give --cue or --take, not both")
    if arguments.setup is not None and arguments.take is None:
        raise Misuse("--setup says which setup a --take is of; add --take N, or --take last")
    if arguments.at is not None and arguments.take is None:
        raise Misuse("--at is a moment of a --take; add --take N, or --take last")
    path = arguments.show.expanduser().resolve()
    moment = moment_of(path, arguments.cue, arguments.take, arguments.setup, arguments.at)
    text = form_of(moment, arguments.to.suffix.lower(), path)
    write_text(arguments.to, text, keep=[path, log_path(path)])
    print(f"wrote {arguments.to}: {clean(moment.title)}")
    return DONE


def moment_of(
    path: Path, cue: str | None, take: str | None, setup: str | None, at_s: float | None = None
) -> Moment:
    """The moment that a sheet is of."""
    if take is not None:
        from onecrew.cli.log_choice import log_of, take_number
        from onecrew.log.logfile import read
        from onecrew.log.takes import put_in_order

        return put_in_order(read(log_of(path))).take(take_number(take), setup).moment(at_s)
    if cue is not None:
        from onecrew.cli.document import current_show
        from onecrew.engine.sheets import moment_of_cue
        from onecrew.language.names import cue_number

        show = current_show(path)
        return moment_of_cue(show, all_profiles(path), cue_number(cue, show, "sheet --cue"))
    return _now(path)


def form_of(moment: Moment, ending: str, path: Path) -> str:
    """The sheet in the form that an ending names."""
    if ending == ".csv":
        from onecrew.sheet.texts import lamps_csv

        return lamps_csv(moment)
    if ending == ".md":
        from onecrew.sheet.texts import markdown

        return markdown(moment)
    if ending == ".json":
        from onecrew.log.moment import dump_moment

        return dump_moment(moment)
    from onecrew.engine.sheets import with_gamuts
    from onecrew.sheet.page import page

    return page(with_gamuts(moment, all_profiles(path)))


def _now(path: Path) -> Moment:
    from onecrew.cli.document import has_engine
    from onecrew.cli.reach import with_client
    from onecrew.log.moment import moment_in

    if not has_engine(path):
        existing_show(path)
        raise Misuse("no engine runs this show, so there is nothing now; say --cue N or --take N")

    async def ask(client: Client) -> Moment:
        return moment_in(await client.ask("moment"), "what the engine sends")

    return with_client(path, ask)
