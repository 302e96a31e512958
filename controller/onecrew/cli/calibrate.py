"""``onecrew calibrate``: what a meter reads of a lamp, white by white, into the show."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from importlib import import_module
from pathlib import Path

from onecrew.cli.calibrate_emitters import by_emitters
from onecrew.cli.calibrate_light import from_light_meter
from onecrew.cli.calibrate_live import to_be_stored, walk_through
from onecrew.cli.calibrate_result import closing_facts, facts, lines, stored
from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.exits import FAILED
from onecrew.cli.meter_file import CHECK, read_lines
from onecrew.cli.parts import answer, existing_show, remark
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import Question, light_doubts, question, reading, whites_to_ask
from onecrew.fixtures.calibration_walk import name_of
from onecrew.fixtures.calibration_words import closing_lines
from onecrew.fixtures.closing_check import by_readings
from onecrew.fixtures.meter import Metered, disagreeing, mean_of
from onecrew.language.reading import kelvin, tint
from onecrew.language.saying import counted
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.light import White
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import NO_READINGS, Fixture, Reading

MOST_ASKS, MOST_REPEATS = 40, 9


def run(arguments: argparse.Namespace) -> int:
    of_a_meter = sum((arguments.asks is not None, arguments.file is not None, arguments.clear))
    if of_a_meter > 1:
        raise Misuse("use one of --asks, --file and --clear")
    path = existing_show(arguments.show)
    camera = (arguments.stills, arguments.folder, arguments.list, arguments.card, arguments.check)
    if arguments.like is None and any(camera):
        raise Misuse(
            "--folder, --stills, --list, --card and --check belong to --like, the lamp to look like; add it"
        )
    beside = [
        f"--{name}" for name in ("at", "distance", "level", "cct") if getattr(arguments, name) is not None
    ]
    if arguments.lux is None and beside:
        raise Misuse(f"{beside[0]} belongs to --lux, the reading of a light meter; add --lux")
    if arguments.lux is not None:
        if arguments.at is not None and arguments.distance is not None:
            raise Misuse("use one of --at and --distance")
        if of_a_meter:
            raise Misuse("--lux goes without --asks, --file and --clear")
        return from_light_meter(path, arguments)
    if not 1 <= arguments.repeats <= MOST_REPEATS:
        raise Misuse(f"--repeats is 1 to {MOST_REPEATS}")
    if arguments.like is not None:
        if of_a_meter:
            raise Misuse("--like goes without --asks, --file and --clear")
        return _by_camera(path, arguments)
    if arguments.emitters:
        if arguments.asks is not None or arguments.clear:
            raise Misuse("--emitters goes without --asks and --clear")
        return by_emitters(path, arguments)
    if arguments.levels is not None:
        raise Misuse("--levels belong to --emitters; add --emitters")
    if arguments.clear:
        return _clear(path, arguments)
    if arguments.file is not None:
        return _from_file(path, arguments)
    return _walk(path, arguments)


def _by_camera(path: Path, arguments: argparse.Namespace) -> int:
    if (arguments.stills is None) == (arguments.folder is None):
        raise Misuse(
            "--like needs one of two: --folder, where the camera's pictures come to during a guided run, or "
            "--stills, a folder with pictures of a grey card"
        )
    if arguments.folder is not None and (arguments.list or arguments.check):
        raise Misuse(
            "--list and --check belong to --stills; a guided run makes its list, and checks by itself"
        )
    # Only now, since it needs the extra that reads pictures, and the other ways do not.
    if arguments.folder is not None:
        status: int = import_module("onecrew.cli.calibrate_camera").by_guided_run(path, arguments)
    else:
        status = import_module("onecrew.cli.calibrate_stills").from_stills(path, arguments)
    return status


# ── Readings from a file, and none at all ───────────────────────────────────────────────────────────


def _from_file(path: Path, arguments: argparse.Namespace) -> int:
    profiles = load_profiles(beside=path)
    fixture = fixture_called(current_show(path), arguments.fixture)
    whites_to_ask(fixture, profiles)  # a lamp of one colour is refused here
    found = read_lines(decode(read_bytes(arguments.file), str(arguments.file)), str(arguments.file))
    if len({line.read.light is None for line in found}) > 1:
        raise Misuse("some readings have a light value and some do not; give one for all or for none")
    bare = fixture.model_copy(update={"calibration": (), "even": False})
    asked = [question(bare, profiles, line.asked) for line in found]
    remarks = _moved([line.asked for line in found], asked)
    read: dict[White, list[Metered]] = {}
    checks: list[Reading] = []
    for one, line in zip(asked, found, strict=True):
        if line.check:
            checks.append(reading(one, line.read.cct_k, line.read.duv, line.read.light))
        else:
            read.setdefault(one.asked, []).append(line.read)
    if not read:
        raise Misuse(f"{arguments.file} has check readings alone; add readings without '{CHECK}'")
    by_white = {one.asked: one for one in asked}
    taken: tuple[Reading, ...] = ()
    for white, several in read.items():
        mean, out = mean_of(several)
        taken += (reading(by_white[white], mean.cct_k, mean.duv, mean.light),)
        if out:
            remarks.append(disagreeing(name_of(white), several, out))
    remarks += light_doubts(taken, [by_white[white].promised for white in read])
    check = by_readings(taken, checks)
    worse = check is not None and check.worse
    if check is not None and (checks or worse):
        remark(arguments, "\n".join(closing_lines(check)).lstrip("\n"))
    stays = not worse or to_be_stored(fixture.id, len(taken), worse=True)
    if stays:
        carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"calibration": taken}))])
    ending = stored(fixture.id, len(taken)) if stays else f"nothing was stored; {fixture.id} is as it was"
    said = [*remarks, *lines(taken), ending]
    told = {**facts(fixture.id, taken, stored=stays, remarks=remarks), "check": closing_facts(check)}
    status = answer(arguments, told, said)
    return status if stays else FAILED


def _clear(path: Path, arguments: argparse.Namespace) -> int:
    fixture = fixture_called(current_show(path), arguments.fixture)
    had = len(fixture.calibration) + len(fixture.emitter_readings) + (fixture.meter is not None)
    if had:
        bare = fixture.model_copy(update={**NO_READINGS, "meter": None})
        carry_out(path, [PutFixture(fixture=bare)])
    said = f"removed {counted(had, 'reading')} from {fixture.id}" if had else f"{fixture.id} has no readings"
    return answer(arguments, facts(fixture.id, (), stored=bool(had), remarks=[said]), [said])


# ── Which lamp, and which whites ────────────────────────────────────────────────────────────────────


def _walk(path: Path, arguments: argparse.Namespace) -> int:
    profiles = load_profiles(beside=path)
    fixture = fixture_called(current_show(path), arguments.fixture)
    questions, remarks = _questions(fixture, profiles, arguments.asks)
    return walk_through(path, fixture, profiles, questions, remarks, arguments)


def _questions(
    fixture: Fixture, profiles: Mapping[str, Profile], asks: str | None
) -> tuple[list[Question], list[str]]:
    whites = whites_to_ask(fixture, profiles)  # a lamp of one colour is refused here, whatever is asked
    if asks is None:
        return [question(fixture, profiles, white) for white in whites], []
    wanted = _whites(asks)
    asked = [question(fixture, profiles, white) for white in wanted]
    distinct = {one.asked: one for one in asked}
    return list(distinct.values()), _moved(wanted, asked)


def _whites(asks: str) -> list[White]:
    whites = []
    for part in asks.split(","):
        cct, colon, after = part.strip().partition(":")
        duv = tint(after, "tint in --asks") if colon else 0.0
        whites.append(White(cct_k=kelvin(cct, "cct in --asks"), duv=duv))
    if len(whites) > MOST_ASKS:
        raise Misuse(f"--asks names {len(whites)} whites; {MOST_ASKS} are enough for any lamp")
    return whites


def _moved(wanted: Sequence[White], asked: Sequence[Question]) -> list[str]:
    return [
        f"{name_of(white)} is out of reach: {name_of(one.asked)} is the nearest and is used instead"
        for white, one in zip(wanted, asked, strict=True)
        if one.asked != white
    ]
