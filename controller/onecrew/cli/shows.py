"""``onecrew open`` and ``onecrew new``."""

from __future__ import annotations

import argparse
from pathlib import Path

from onecrew.cli.exits import DONE, complain
from onecrew.cli.parts import existing_show, has_terminal
from onecrew.cli.reach import running_shows
from onecrew.cli.remembered import colours, remember_show
from onecrew.engine.endpoint import files_of
from onecrew.engine.live import LiveFile
from onecrew.errors import DocumentFaults, Misuse, OnecrewError, Trouble
from onecrew.show.load import load_show
from onecrew.show.new import new_show
from onecrew.show.profiles import load_profiles
from onecrew.show.save import newest_good_version, save_show
from onecrew.show.show import Show
from onecrew.tui.run import run


def run_open(arguments: argparse.Namespace) -> int:
    path: Path = arguments.show.expanduser().resolve()
    goes_on = goes_on_anyway(path)
    if not goes_on:
        existing_show(arguments.show)
    if not has_terminal():
        raise Trouble("open needs a terminal; without one, run `onecrew engine SHOW` and `onecrew send`")
    if not goes_on:
        refuse_faulty(path)
    return open_screens(path, theme=arguments.theme)


def open_screens(path: Path, *, first_run: bool = False, theme: str | None = None) -> int:
    """The screens on a show that was looked at, which is remembered as the one opened last."""
    remember_show(path)
    try:
        run(path, first_run=first_run, colours=colours(theme))
    except OnecrewError:
        raise
    except Exception:
        complain(f"the screens ended by a fault of theirs; the light goes on: onecrew open {path.name}")
        raise
    return DONE


def goes_on_anyway(path: Path) -> bool:
    """Whether an engine has the show, whatever became of its file."""
    return path in running_shows() or left_by_an_engine(path)


def refuse_missing_or_faulty(path: Path) -> None:
    """Raises ``DocumentFaults`` or ``Trouble`` where the screens could not be opened on this path."""
    if not goes_on_anyway(path):
        refuse_faulty(existing_show(path))


def left_by_an_engine(path: Path) -> bool:
    """Whether an engine that died, or could not save, left a show in its live state for the next one."""
    file = files_of(path).live
    if not file.exists():
        return False
    live = LiveFile(file)
    try:
        return live.show.read() is not None
    finally:
        live.close()


def refuse_faulty(path: Path) -> None:
    """Raises ``DocumentFaults`` or ``Trouble`` for a show that cannot be used, naming a version that can."""
    profiles = load_profiles(beside=path)
    try:
        load_show(path, profiles)
    except (DocumentFaults, Trouble) as fault:
        good = newest_good_version(path, profiles)
        if good is None:
            raise
        raise Trouble(
            f"{fault}\nthe newest sound version is {good[0]}; copy it over to go back to it"
        ) from fault


def run_new(arguments: argparse.Namespace) -> int:
    path: Path = arguments.show
    save_show(new_at(path, arguments.name or path.stem), path)
    print(f"made {path}: no lamps, no cues; nothing is sent before the first lamp")
    print("next:")
    for line in (
        f"onecrew open {path}",
        "onecrew send output 1 to=192.168.1.50                 on Wi-Fi to addresses; else by multicast",
        "onecrew profiles                                      the kinds of lamp there are",
        "onecrew send patch key panel-cct-tint/16-bit 1.1      a first lamp",
        "onecrew send set key level=20% cct=3200",
        "onecrew send store 1 First look",
    ):
        print(f"  {line}")
    return DONE


def new_at(path: Path, name: str) -> Show:
    """An empty show for this path.

    Raises ``Trouble`` where no file may go, ``Misuse`` and ``Refused`` for the name.
    """
    if str(path) == "-":
        raise Misuse("a show is a file: give it a name, as in `onecrew new kitchen.json`")
    if path.exists() or path.is_symlink():
        raise Trouble(f"{path} exists already and is left as it is; choose another name")
    if not path.parent.is_dir():
        raise Trouble(f"there is no folder {path.parent}; make it first")
    return new_show(name)
