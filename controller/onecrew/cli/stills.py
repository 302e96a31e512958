"""``onecrew stills``: a guided run of stills, one lamp at a time, and the list of which is which."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from onecrew.cli.document import current_show, fixture_called
from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import keeping
from onecrew.cli.output import check_names, write_text
from onecrew.cli.parts import existing_show
from onecrew.cli.taking import say, take
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Mistake, Misuse, OnecrewError, Trouble
from onecrew.language.reading import level, seconds
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Show
from onecrew.stills.arrivals import Folder, pictures_in, taken_s
from onecrew.stills.guided import Guided, as_document, guided
from onecrew.stills.regions import marked
from onecrew.stills.run_plan import left_of, planned
from onecrew.stills.shotlist import Shot, list_document, shot_list
from onecrew.stills.sorting import Taken, sorted_into
from onecrew.stills.transfer import curve_called

REST = "; the same with --rest takes what is left"


def run(arguments: argparse.Namespace) -> int:
    if arguments.sort is not None:
        return _sort(_list_of(arguments), arguments.sort)

    earlier = _earlier(_list_of(arguments)) if arguments.rest else None
    check_names([_list_of(arguments)], replace=arguments.replace or arguments.rest)
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
    if earlier is not None:
        shots = left_of(shots, shot_list(earlier, _list_of(arguments).name).shots)
        if not shots:
            raise Mistake(f"{_list_of(arguments)} has every still of this run: nothing is left to take")
    wait_s = None if arguments.countdown is None else seconds(arguments.countdown, "--countdown", 600.0)
    folder = None
    if arguments.folder is not None:
        folder = Folder(arguments.folder, marked(arguments.regions, arguments.region))
    run = guided(shots, time.monotonic(), wait_s, by_picture=folder is not None)

    def note(now: Guided) -> None:
        nonlocal run
        run = now
        _write(arguments, run.result, show, earlier)

    try:
        with endings_are_interrupts(), keeping(path, KEEP_EVERY_S, ShowStill(off=True)) as keeper:
            take(run, keeper, folder, note=note)
    except (KeyboardInterrupt, OnecrewError):
        if run.result:
            taken = f"{len(run.result)} of {len(run.shots)} stills"
            say(f"\n{_list_of(arguments)} has what was taken: {taken}{REST}")
        raise
    if not run.result:
        say("no still was taken; the light is as it was")
        return FAILED
    to = _list_of(arguments)
    if len(run.result) < len(run.shots):
        say(f"{len(run.shots) - len(run.result)} of {len(run.shots)} stills were not taken{REST}")
    if all(shot.file for shot, _ in run.result):
        say(f"wrote {to}: {len(run.result)} stills, each with its picture")
    else:
        say(
            f"wrote {to}: {len(run.result)} stills; copy the pictures into a folder and name them with "
            "--sort FOLDER"
        )
    return DONE


def _chosen(show: Show, said: str | None) -> tuple[Fixture, ...]:
    if not show.rig.fixtures:
        raise Misuse("the show has no lamp; patch one first")
    if said is None:
        return show.rig.fixtures
    return tuple(fixture_called(show, name.strip()) for name in said.split(",") if name.strip())


def _write(
    arguments: argparse.Namespace,
    taken: Sequence[tuple[Shot, str]],
    show: Show,
    earlier: dict[str, Any] | None,
) -> None:
    """Writes the list as far as it goes: a run that is broken off has what was taken, after what an
    ``earlier`` one took."""
    if not taken:
        return
    curve = arguments.curve or ("ladder" if arguments.ladder else None)
    document = dict(as_document(taken, curve, show.camera.white_balance_k))
    if earlier is not None:
        document = {**document, **earlier, "stills": [*earlier["stills"], *document["stills"]]}
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    write_text(_list_of(arguments), text, replace=True)  # whether it may was asked before the run


def _earlier(listed: Path) -> dict[str, Any]:
    """The list of a run that was stopped."""
    document = list_document(listed)
    if not isinstance(document, dict) or not isinstance(document.get("stills"), list):
        raise Mistake(f"{listed} is no list that a run of stills wrote, so nothing can be added to it")
    return document


def _list_of(arguments: argparse.Namespace) -> Path:
    """Where the list goes: where it is said, or beside the pictures that come."""
    said: Path | None = arguments.to
    return said or (arguments.folder / "stills.json" if arguments.folder else Path("stills.json"))


def _sort(listed: Path, folder: Path) -> int:
    """Writes into the list which file of a folder is which still."""
    if not folder.is_dir():
        raise Trouble(f"there is no folder {folder}")
    document = list_document(listed)
    shot_list(document, listed.name)  # says what is wrong with it
    try:
        entries = document["stills"]
        called = [datetime.fromisoformat(entry["taken"]).timestamp() for entry in entries]
    except (KeyError, TypeError, ValueError):
        raise Mistake(
            f"{listed} does not say when its stills were taken; name their files in it by hand"
        ) from None
    files = [Taken(path.name, taken_s(path)) for path in pictures_in(folder)]
    for entry, name in zip(entries, sorted_into(files, called), strict=True):
        entry["file"] = name
    write_text(listed, json.dumps(document, ensure_ascii=False, indent=1) + "\n", replace=True)
    for entry in entries:
        print(f"{entry['file']}  {entry.get('lamp') or 'dark'}")
    return DONE
