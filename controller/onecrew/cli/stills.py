"""``onecrew stills``: a guided run of stills, one lamp at a time, and the list of which is which."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from onecrew.cli.document import current_show, fixture_called
from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import Keeper, keeping
from onecrew.cli.output import check_names, write_text
from onecrew.cli.parts import existing_show, typed_line
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Mistake, Misuse, Trouble
from onecrew.language.reading import level, seconds
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Show
from onecrew.stills.arrivals import Folder, pictures_in
from onecrew.stills.guided import SETTLE_S, Guided, Phase, as_document, guided
from onecrew.stills.picture import taken_at
from onecrew.stills.regions import marked
from onecrew.stills.run_plan import planned
from onecrew.stills.shotlist import Shot, read_shot_list, taken_now
from onecrew.stills.sorting import Taken, sorted_into
from onecrew.stills.transfer import curve_called

HELP = "Enter when it is taken; again, less (one stop less light), back, skip, done"
WORDS = {"": "next", "done": "stop"}
TICK_S = 0.25


def run(arguments: argparse.Namespace) -> int:
    if arguments.sort is not None:
        return _sort(_list_of(arguments), arguments.sort)

    check_names([_list_of(arguments)], replace=arguments.replace)
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
    folder = None
    if arguments.folder is not None:
        folder = Folder(arguments.folder, marked(arguments.regions, arguments.region))
    run = guided(shots, time.monotonic(), wait_s, by_picture=folder is not None)
    with endings_are_interrupts(), keeping(path, KEEP_EVERY_S, ShowStill(off=True)) as keeper:
        run = _take(run, keeper, folder)
    if not run.result:
        _say("no still was taken; the light is as it was")
        return FAILED
    _write(arguments, run.result, show)
    return DONE


def _chosen(show: Show, said: str | None) -> tuple[Fixture, ...]:
    if not show.rig.fixtures:
        raise Misuse("the show has no lamp; patch one first")
    if said is None:
        return show.rig.fixtures
    return tuple(fixture_called(show, name.strip()) for name in said.split(",") if name.strip())


def _take(run: Guided, keeper: Keeper, folder: Folder | None) -> Guided:
    """Go through the run with what is typed, or by the clock, or by the pictures that come."""
    by_hand = run.wait_s is None and folder is None
    begun = False
    while (light := run.light) is not None:
        keeper.keep(light, light.model_copy(update={"again": True}))
        if not begun:
            begun = True
            _say(f"{len(run.shots)} stills. {HELP if by_hand else 'Ctrl-C ends the run.'}")
        run = _by_hand(run, keeper) if by_hand else _by_itself(run, keeper, folder)
    return run


def _by_hand(run: Guided, keeper: Keeper) -> Guided:
    """The run after what was typed for the still that shows."""
    time.sleep(max(run.since + SETTLE_S - time.monotonic(), 0.0))
    while True:
        typed = typed_line(f"{run.words}  > ")
        word = "stop" if typed is None else WORDS.get(typed, typed)
        if word != "stop" and keeper.failed is not None:
            _say(f"{keeper.failed}; the still that was called for last is taken again")
            return run.pressed("again", time.monotonic(), taken_now())
        try:
            return run.pressed(word, max(time.monotonic(), run.since + SETTLE_S), taken_now())
        except ValueError:
            _say(HELP)


def _by_itself(run: Guided, keeper: Keeper, folder: Folder | None) -> Guided:
    """The run at its next light: a countdown is over, or a picture came."""
    light, before = run.light, None
    while run.light == light:
        now = time.monotonic()
        if keeper.failed is not None:
            raise keeper.failed
        run = run.passed(now, taken_now())
        arrival = folder.look() if folder is not None and run.light == light else None
        if arrival is not None:
            run = run.arrived(arrival.name, arrival.clipped, now, taken_now())
            _say(f"\r{arrival.name}: {run.remark or 'taken'}")
            continue
        phase = run.phase(now)
        said = f"in {run.left_s(now):3.0f} s" if phase is Phase.COUNTING else phase.value
        if said != before:
            sys.stderr.write(f"\r{run.words}  {said:<24}")
            sys.stderr.flush()
            before = said
        time.sleep(TICK_S)
    _say("")
    return run


def _write(arguments: argparse.Namespace, taken: Sequence[tuple[Shot, str]], show: Show) -> None:
    to = _list_of(arguments)
    curve = arguments.curve or ("ladder" if arguments.ladder else None)
    document = as_document(taken, curve, show.camera.white_balance_k)
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    write_text(to, text, replace=True)  # whether it may was asked before the run
    if all(shot.file for shot, _ in taken):
        _say(f"wrote {to}: {len(taken)} stills, each with its picture")
        return
    _say(f"wrote {to}: {len(taken)} stills; copy the pictures into a folder and name them with --sort FOLDER")


def _list_of(arguments: argparse.Namespace) -> Path:
    """Where the list goes: where it is said, or beside the pictures that come."""
    said: Path | None = arguments.to
    return said or (arguments.folder / "stills.json" if arguments.folder else Path("stills.json"))


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
    files = [Taken(path.name, _taken_s(path)) for path in pictures_in(folder)]
    for entry, name in zip(entries, sorted_into(files, called), strict=True):
        entry["file"] = name
    write_text(listed, json.dumps(document, ensure_ascii=False, indent=1) + "\n", replace=True)
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
