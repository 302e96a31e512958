"""``onecrew stills``: a guided run of stills, one lamp at a time, and the list of which is which."""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from onecrew.cli.document import current_show, fixture_called
from onecrew.cli.engine import borrowed_engine
from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts, undisturbed
from onecrew.cli.parts import existing_show, typed_line
from onecrew.cli.stills_guard import guarded_loan
from onecrew.cli.stills_light import Loan, give_back
from onecrew.cli.writing import write_text
from onecrew.engine.client import Client
from onecrew.errors import Mistake, Misuse, Trouble
from onecrew.fixtures.dimming import law_of, level_of
from onecrew.language.reading import level, seconds
from onecrew.show.profiles import ProfileShelf, load_profiles
from onecrew.show.show import Fixture, Show
from onecrew.stills.picture import taken_at
from onecrew.stills.plan import as_document, planned, said
from onecrew.stills.shotlist import Shot, read_shot_list
from onecrew.stills.sorting import Taken, sorted_into
from onecrew.stills.transfer import curve_called

NO_PICTURES = (".json", ".txt", ".xmp")
HELP = "Enter when it is taken; again, less (one stop less light), back, skip, done"


def run(arguments: argparse.Namespace) -> int:
    if arguments.sort is not None:
        return _sort(arguments.to, arguments.sort)

    path = existing_show(arguments.show)
    profiles = load_profiles(beside=path)
    show = current_show(path)
    fixtures = _chosen(show, arguments.lamps)
    if arguments.curve is not None and arguments.curve != "ladder":
        curve_called(arguments.curve)
    if arguments.ladder is not None and arguments.ladder not in {one.id for one in fixtures}:
        raise Misuse(f"there is no lamp '{arguments.ladder}' among {', '.join(one.id for one in fixtures)}")
    output = level(arguments.output, "--output")
    if output <= 0.0:
        raise Misuse("--output 0 would leave every lamp dark; say more")
    shots = planned(fixtures, profiles, one_white=arguments.one_white, output=output, ladder=arguments.ladder)
    wait_s = None if arguments.countdown is None else seconds(arguments.countdown, "--countdown", 600.0)
    with _loan(path, fixtures, profiles) as (runner, loan):
        taken = _take(shots, loan, runner, wait_s)
    if not taken:
        _say("no still was taken; the light is as it was")
        return FAILED
    _write(arguments.to, taken, arguments.curve or ("ladder" if arguments.ladder else None), show)
    return DONE


def _chosen(show: Show, said: str | None) -> tuple[Fixture, ...]:

    if not show.rig.fixtures:
        raise Misuse("the show has no lamp; patch one first")
    if said is None:
        return show.rig.fixtures
    return tuple(fixture_called(show, name.strip()) for name in said.split(",") if name.strip())


@contextmanager
def _loan(
    path: Path, fixtures: tuple[Fixture, ...], profiles: ProfileShelf
) -> Iterator[tuple[asyncio.Runner, Loan]]:
    """The light, lent by the engine that runs or by one that runs as long as this does."""
    with endings_are_interrupts(), borrowed_engine(path) as running, asyncio.Runner() as runner:
        client = runner.run(Client.attach(path, rate_hz=8.0))
        try:
            loan = Loan(client, fixtures, profiles)
            before = runner.run(loan.take())
            with guarded_loan(before, stop=not running):
                try:
                    yield runner, loan
                finally:
                    with undisturbed():
                        runner.run(give_back(client, before))
        finally:
            with undisturbed():
                runner.run(client.close())


def _take(
    shots: Sequence[Shot], loan: Loan, runner: asyncio.Runner, wait_s: float | None
) -> list[tuple[Shot, str]]:
    """Goes through the plan; returns what was taken, each with its time."""

    laws = {one.id: law_of(loan.profiles[one.profile]) for one in loan.fixtures}
    todo, taken, at = list(shots), dict[int, str](), 0
    _say(f"{len(todo)} stills. {HELP if wait_s is None else 'Ctrl-C ends the run.'}")
    while at < len(todo):
        shot = todo[at]
        level = 0.0 if shot.lamp is None else float(level_of(shot.output, laws[shot.lamp]))
        runner.run(loan.show(shot, level))
        word = _wait(f"{at + 1}/{len(todo)}  {said(shot)}", wait_s)
        if word is None or word == "done":
            break
        if word == "less" and shot.lamp is not None:
            todo[at] = replace(shot, output=shot.output / 2.0)
        elif word == "back":
            at = max(at - 1, 0)
        elif word == "skip":
            taken.pop(at, None)
            at += 1
        elif word == "":
            taken[at] = datetime.now().astimezone().isoformat(timespec="milliseconds")
            at += 1
        elif word != "again":
            _say(HELP)
    return [(todo[i], taken[i]) for i in sorted(taken)]


def _wait(prompt: str, wait_s: float | None) -> str | None:
    """What is typed, '' for Enter or when the countdown is over; None at the end of the input."""
    if wait_s is None:
        return typed_line(f"{prompt}  > ")
    deadline = time.monotonic() + wait_s
    while (left := deadline - time.monotonic()) > 0.0:
        sys.stderr.write(f"\r{prompt}  in {left:3.0f} s ")
        sys.stderr.flush()
        time.sleep(min(left, 0.5))
    sys.stderr.write(f"\r{prompt}  now      \n")
    sys.stderr.flush()
    time.sleep(1.0)  # the shutter, before the light changes
    return ""


def _write(to: Path, taken: list[tuple[Shot, str]], curve: str | None, show: Show) -> None:

    document = as_document(taken, curve, show.camera.white_balance_k)
    write_text(to, json.dumps(document, ensure_ascii=False, indent=1) + "\n")
    _say(f"wrote {to}: {len(taken)} stills; copy the pictures into a folder and name them with --sort FOLDER")


def _sort(listed: Path, folder: Path) -> int:
    """Writes into the list which file of a folder is which still."""

    if not folder.is_dir():
        raise Trouble(f"there is no folder {folder}")
    read_shot_list(listed)  # says what is wrong with it
    document = json.loads(listed.read_text(encoding="utf-8-sig"))
    entries = document["stills"]
    try:
        called = [datetime.fromisoformat(entry["taken"]).timestamp() for entry in entries]
    except (KeyError, TypeError, ValueError):
        raise Mistake(
            f"{listed} does not say when its stills were taken; name their files in it by hand"
        ) from None
    files = [
        Taken(path.name, _taken_s(path))
        for path in sorted(folder.iterdir())
        if path.is_file() and not path.name.startswith(".") and path.suffix.lower() not in NO_PICTURES
    ]
    for entry, name in zip(entries, sorted_into(files, called), strict=True):
        entry["file"] = name
    write_text(listed, json.dumps(document, ensure_ascii=False, indent=1) + "\n")
    for entry in entries:
        print(f"{entry['file']}  {entry['lamp'] or 'dark'}")
    return DONE


def _taken_s(path: Path) -> float:
    """When a picture was taken, by its metadata or else by its file."""

    said = taken_at(path)
    if said is not None:
        return datetime.strptime(said, "%Y:%m:%d %H:%M:%S").timestamp()
    return path.stat().st_mtime


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
