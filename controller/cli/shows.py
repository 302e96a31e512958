"""``lampwright open`` and ``lampwright new``."""

from __future__ import annotations

import argparse
from pathlib import Path

from controller.cli.exits import DONE
from controller.cli.parts import Commands, add, all_profiles, existing_show, has_terminal
from controller.errors import DocumentFaults, Trouble


def add_to(commands: Commands) -> None:
    opening = add(
        commands,
        "open",
        run_open,
        does="open a show in the terminal, starting its engine if none runs",
        more="Closing the window changes no light: the engine stays until you end it.",
        example="lampwright open night-baker.json",
    )
    opening.add_argument("show", type=Path, metavar="SHOW")
    new = add(
        commands,
        "new",
        run_new,
        does="make an empty show, ready to be patched",
        example='lampwright new kitchen.json --name "Kitchen, night"',
    )
    new.add_argument("show", type=Path, metavar="SHOW", help="the file to make; it must not exist yet")
    new.add_argument("--name", help="the show's name (the file's name without its ending)")


def run_open(arguments: argparse.Namespace) -> int:
    from controller.cli.reach import running_shows

    path: Path = arguments.show.expanduser().resolve()
    goes_on = path in running_shows() or left_by_an_engine(path)  # whatever became of its file
    if not goes_on:
        existing_show(arguments.show)
    if not has_terminal():
        raise Trouble(
            "open needs a terminal; without one, run `lampwright engine SHOW` and `lampwright send`"
        )
    if not goes_on:
        refuse_faulty(path)
    from tui.app import run

    run(path)
    return DONE


def left_by_an_engine(path: Path) -> bool:
    """Whether an engine that died left a show in its live state, which the next one goes on with."""
    from controller.engine.endpoint import files_of
    from controller.engine.live import LiveFile

    file = files_of(path).live
    if not file.exists():
        return False
    live = LiveFile(file)
    try:
        return live.playback.read() is not None and live.show.read() is not None
    finally:
        live.close()


def refuse_faulty(path: Path) -> None:
    """Raises ``DocumentFaults`` or ``Trouble`` for a show that cannot be used, naming a version that can."""
    from controller.documents.load import load_show
    from controller.documents.save import newest_good_version

    profiles = all_profiles(path)
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
    from controller.documents.new import new_show
    from controller.documents.save import save_show

    path: Path = arguments.show
    if path.exists() or path.is_symlink():
        raise Trouble(f"{path} exists already and is left as it is; choose another name")
    if not path.parent.is_dir():
        raise Trouble(f"there is no folder {path.parent}; make it first")
    save_show(new_show(arguments.name or path.stem), path)
    print(f"made {path}: no fixtures, no cues, universe 1 by sACN multicast")
    print("next:")
    for line in (
        "lampwright profiles                                      the kinds of fixture there are",
        f"lampwright open {path}",
        "lampwright send patch key panel-cct-tint/16-bit 1.1      a first fixture",
        "lampwright send output 1 to=192.168.1.50                 unicast, where the network is Wi-Fi",
        "lampwright send set key level=20% cct=3200",
        "lampwright send store 1 First look",
    ):
        print(f"  {line}")
    return DONE
