"""``onecrew demo``: the example show on this machine alone, with a virtual room that reads the wire."""

from __future__ import annotations

import argparse
import contextlib
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from onecrew.cli.demo_room import DemoRoom
from onecrew.cli.demo_run import run_cues
from onecrew.cli.engine import stop
from onecrew.cli.exits import DONE, complain, endings_are_interrupts, undisturbed
from onecrew.cli.parts import has_terminal
from onecrew.cli.reach import running_shows
from onecrew.cli.remembered import colours
from onecrew.engine.endpoint import files_of
from onecrew.errors import OnecrewError, Trouble
from onecrew.shipped import shipped
from onecrew.show.load import load_show
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.save import save_show
from onecrew.show.show import Output, Remote, Sacn, SacnUniverse, Show
from onecrew.tui.run import run as run_screens

EXAMPLE = "night-baker.json"
COMING_UP_S = 3.0
"""Time an engine may need from its start until it can be told to end."""


def run(arguments: argparse.Namespace) -> int:
    headless = arguments.headless or not has_terminal()
    profiles = load_profiles()
    show = example(profiles)
    with endings_are_interrupts(), DemoRoom(show, profiles) as room, copy_of(show, room) as path:
        keep_log, patience_s = True, 0.0
        try:
            if headless:
                status = run_cues(path, show, profiles, room)
            else:
                run_screens(path, receiver=room.lamps, colours=colours(arguments.theme))
                status = DONE
            keep_log = status != DONE
            return status
        except KeyboardInterrupt:
            keep_log, patience_s = False, COMING_UP_S
            raise
        finally:
            with undisturbed():
                end_engine(path, keep_log, patience_s)


def example(profiles: dict[str, Profile]) -> Show:
    """The example show as it ships."""
    path = shipped("examples") / EXAMPLE
    if not path.exists():
        raise Trouble(f"the example show is missing from this installation: {path}")
    return load_show(path, profiles)


@contextlib.contextmanager
def copy_of(show: Show, room: DemoRoom) -> Iterator[Path]:
    """A copy in a temporary folder, its packets pointed at the room; the folder goes at the end."""
    universes = {str(fixture.universe) for fixture in show.rig.fixtures}
    to_room = SacnUniverse(to=(f"127.0.0.1:{room.port}",))
    sacn = Sacn(universes=dict.fromkeys(sorted(universes, key=int), to_room))
    here = show.model_copy(update={"output": Output(sacn=sacn), "remote": Remote()})
    folder = Path(tempfile.mkdtemp(prefix="onecrew-demo-"))
    try:
        path = folder.resolve() / EXAMPLE
        save_show(here, path)
        yield path
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def end_engine(path: Path, keep_log: bool, patience_s: float) -> None:
    """Ends the engine of the copy, if one came up, and takes away what it kept for itself.

    ``patience_s`` is how long to wait for one that was started and then interrupted.
    """
    try:
        deadline = time.monotonic() + patience_s
        while path not in running_shows() and time.monotonic() < deadline:
            time.sleep(0.02)
        if path in running_shows():
            stop(path, fade_s=0.2, confirmed=True)
    except OnecrewError as error:
        complain(str(error))
    files = files_of(path)
    for leftover in (files.endpoint, files.lock, files.live, *(() if keep_log else (files.log,))):
        with contextlib.suppress(OSError):
            leftover.unlink()
