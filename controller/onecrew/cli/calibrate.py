"""``onecrew calibrate``: what a meter reads of a lamp, white by white, into the show."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.cli.exits import DONE, Misuse
from onecrew.cli.parts import Commands, add, add_json, all_profiles, existing_show, print_json

if TYPE_CHECKING:
    from onecrew.fixtures.calibration_plan import Question
    from onecrew.show.light import White
    from onecrew.show.profile import Profile
    from onecrew.show.show import Fixture

MOST_ASKS = 40


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "calibrate",
        run,
        does="measure a lamp with a colour meter, white by white, and correct it",
        more="The lamp goes to full at one white after the other, the others are dark meanwhile, and you\n"
        "type what the meter says: colour temperature, Duv and light, in any order. skip, back, done and\n"
        "help work; Ctrl-C changes nothing. The result shows the error before and after, is stored in the\n"
        "show in place of older readings, and can be undone.\n\n"
        "With --file, readings that were written down are taken instead: one a line,\n"
        "asked_cct_k,asked_duv,measured_cct_k,measured_duv,light, read at full level from a lamp without\n"
        "readings and with even output off. Without a terminal, the answers come from standard input.",
        example="onecrew calibrate night-baker.json window",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("fixture", metavar="FIXTURE", help="the id of the lamp")
    command.add_argument(
        "--asks", metavar="LIST", help="whites to ask, as 2800,3200,4300:+0.01 (CCT, or CCT:tint)"
    )
    command.add_argument(
        "--file", type=Path, metavar="READINGS", help="take readings from a file, move no lamp"
    )
    command.add_argument("--clear", action="store_true", help="remove the lamp's readings from the show")
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    if sum((arguments.asks is not None, arguments.file is not None, arguments.clear)) > 1:
        raise Misuse("use one of --asks, --file and --clear")
    path = existing_show(arguments.show)
    if arguments.clear:
        return _clear(path, arguments)
    if arguments.file is not None:
        return _from_file(path, arguments)
    return _walk(path, arguments)


# ── Readings from a file, and none at all ───────────────────────────────────────────────────────────


def _from_file(path: Path, arguments: argparse.Namespace) -> int:
    from onecrew.cli.calibrate_result import facts, lines, stored
    from onecrew.cli.document import carry_out, current_show, fixture_called
    from onecrew.cli.meter_file import read_lines
    from onecrew.commands.models import PutFixture
    from onecrew.fixtures.calibration_plan import question, reading, whites_to_ask
    from onecrew.show.reading import decode, read_bytes

    profiles = all_profiles(path)
    fixture = fixture_called(current_show(path), arguments.fixture)
    whites_to_ask(fixture, profiles)  # a lamp of one colour is refused here
    found = read_lines(decode(read_bytes(arguments.file), str(arguments.file)), str(arguments.file))
    if len({line.read.light is None for line in found}) > 1:
        raise Misuse("some readings have a light value and some do not; give one for all or for none")
    bare = fixture.model_copy(update={"calibration": (), "even": False})
    asked = [question(bare, profiles, line.asked) for line in found]
    taken = tuple(
        reading(one, line.read.cct_k, line.read.duv, line.read.light)
        for one, line in zip(asked, found, strict=True)
    )
    remarks = _moved([line.asked for line in found], asked)
    carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"calibration": taken}))])
    if arguments.json:
        print_json(facts(fixture.id, taken, stored=True, remarks=remarks))
    else:
        print("\n".join([*remarks, *lines(taken), stored(fixture.id, len(taken))]))
    return DONE


def _clear(path: Path, arguments: argparse.Namespace) -> int:
    from onecrew.cli.calibrate_result import count, facts
    from onecrew.cli.document import carry_out, current_show, fixture_called
    from onecrew.commands.models import PutFixture

    fixture = fixture_called(current_show(path), arguments.fixture)
    if fixture.calibration:
        carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"calibration": ()}))])
    had = len(fixture.calibration)
    said = f"removed {count(had)} from {fixture.id}" if had else f"{fixture.id} has no readings"
    if arguments.json:
        print_json(facts(fixture.id, (), stored=bool(had), remarks=[said]))
    else:
        print(said)
    return DONE


# ── Which lamp, and which whites ────────────────────────────────────────────────────────────────────


def _walk(path: Path, arguments: argparse.Namespace) -> int:
    from onecrew.cli.calibrate_live import walk_through
    from onecrew.cli.document import current_show, fixture_called

    profiles = all_profiles(path)
    fixture = fixture_called(current_show(path), arguments.fixture)
    questions, remarks = _questions(fixture, profiles, arguments.asks)
    return walk_through(path, fixture, profiles, questions, remarks, arguments)


def _questions(
    fixture: Fixture, profiles: Mapping[str, Profile], asks: str | None
) -> tuple[list[Question], list[str]]:
    from onecrew.fixtures.calibration_plan import question, whites_to_ask

    whites = whites_to_ask(fixture, profiles)  # a lamp of one colour is refused here, whatever is asked
    if asks is None:
        return [question(fixture, profiles, white) for white in whites], []
    wanted = _whites(asks)
    asked = [question(fixture, profiles, white) for white in wanted]
    distinct = {one.asked: one for one in asked}
    return list(distinct.values()), _moved(wanted, asked)


def _whites(asks: str) -> list[White]:
    from onecrew.language import reading
    from onecrew.show.light import White

    whites = []
    for part in asks.split(","):
        cct, colon, tint = part.strip().partition(":")
        duv = reading.tint(tint, "tint in --asks") if colon else 0.0
        whites.append(White(cct_k=reading.kelvin(cct, "cct in --asks"), duv=duv))
    if len(whites) > MOST_ASKS:
        raise Misuse(f"--asks names {len(whites)} whites; {MOST_ASKS} are enough for any lamp")
    return whites


def _moved(wanted: Sequence[White], asked: Sequence[Question]) -> list[str]:
    from onecrew.cli.calibrate_result import name_of

    return [
        f"{name_of(white)} is out of reach: {name_of(one.asked)} is the nearest and is used instead"
        for white, one in zip(wanted, asked, strict=True)
        if one.asked != white
    ]
