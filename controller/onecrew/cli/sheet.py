"""``onecrew sheet``: a look on paper, from what was sent to the lamps."""

from __future__ import annotations

import argparse
from pathlib import Path

from onecrew.cli.document import current_show, has_engine
from onecrew.cli.exits import DONE
from onecrew.cli.log_choice import log_of, take_number
from onecrew.cli.output import write_text
from onecrew.cli.parts import existing_show
from onecrew.cli.reach import with_client
from onecrew.engine.client import Client
from onecrew.engine.sheets import check_ending, recorded_state_of_cue, sheet_of
from onecrew.errors import Misuse
from onecrew.language.names import cue_number
from onecrew.language.reading import seconds
from onecrew.log.logfile import log_path, read
from onecrew.log.recorded_state import RecordedState, parse_recorded_state
from onecrew.log.takes import put_in_order
from onecrew.log.text import clean
from onecrew.show.profiles import load_profiles
from onecrew.show.scenes import scene_with_cue

DAY_S = 86400.0


def run(arguments: argparse.Namespace) -> int:
    check_ending(arguments.to)
    if arguments.cue is not None and arguments.take is not None:
        raise Misuse("give --cue or --take, not both")
    if arguments.setup is not None and arguments.take is None:
        raise Misuse("--setup says which setup a --take is of; add --take N, or --take last")
    if arguments.at is not None and arguments.take is None:
        raise Misuse("--at is a moment of a --take; add --take N, or --take last")
    path = arguments.show.expanduser().resolve()
    at_s = (
        None if arguments.at is None else seconds(arguments.at.strip().removeprefix("+"), "sheet --at", DAY_S)
    )
    recorded = recorded_state_of(path, arguments.cue, arguments.take, arguments.setup, at_s)
    text = sheet_of(recorded, arguments.to.suffix.lower(), load_profiles(beside=path), log_path(path))
    write_text(arguments.to, text, keep=[path, log_path(path)], replace=arguments.replace)
    print(f"wrote {arguments.to}: {clean(recorded.title)}")
    return DONE


def recorded_state_of(
    path: Path, cue: str | None, take: str | None, setup: str | None, at_s: float | None = None
) -> RecordedState:
    """The moment that a sheet is of."""
    if take is not None:
        return put_in_order(read(log_of(path))).take(take_number(take), setup).recorded_state(at_s)
    if cue is not None:
        show = current_show(path)
        show = scene_with_cue(show, cue)
        return recorded_state_of_cue(show, load_profiles(beside=path), cue_number(cue, show, "sheet --cue"))
    return _now(path)


def _now(path: Path) -> RecordedState:
    if not has_engine(path):
        existing_show(path)
        raise Misuse("no engine runs this show, so there is nothing now; say --cue N or --take N")

    async def ask(client: Client) -> RecordedState:
        return parse_recorded_state(await client.ask("moment"), "what the engine sends")

    return with_client(path, ask)
