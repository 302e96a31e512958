"""``onecrew demo``: the example show on this machine alone, with a virtual room that reads the wire."""

from __future__ import annotations

import argparse
import contextlib
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.cli.exits import DONE, complain, endings_are_interrupts, undisturbed
from onecrew.cli.parts import Commands, add, all_profiles, has_terminal
from onecrew.errors import OnecrewError, Trouble

if TYPE_CHECKING:
    from onecrew.cli.demo_room import DemoRoom
    from onecrew.show.profile import Profile
    from onecrew.show.show import Show

EXAMPLE = "night-baker.json"
COMING_UP_S = 3.0
"""Time an engine may need from its start until it can be told to end."""


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "demo",
        run,
        does="run the example show with a virtual room instead of lamps",
        more="The engine sends real packets to this machine alone; a receiver that knows nothing but those\n"
        "packets and the patch shows what the lamps would do. Nothing leaves the machine, nothing is kept.\n"
        "Without a terminal, or with --headless, the cues run once with their real fades; what was seen is\n"
        "compared with what the cues say, and exit status 0 means that it is the same.",
        example="onecrew demo --headless",
    )
    command.add_argument("--headless", action="store_true", help="no screens: run the cues once and compare")


def run(arguments: argparse.Namespace) -> int:
    from onecrew.cli.demo_room import DemoRoom

    headless = arguments.headless or not has_terminal()
    profiles = all_profiles()
    show = example(profiles)
    with endings_are_interrupts(), DemoRoom(show, profiles) as room, copy_of(show, room) as path:
        keep_log, patience_s = True, 0.0
        try:
            if headless:
                from onecrew.cli.demo_run import run_cues

                status = run_cues(path, show, profiles, room)
            else:
                from onecrew.tui.app import run as run_screens

                run_screens(path, receiver=room.lamps)
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
    from onecrew.shipped import shipped
    from onecrew.show.load import load_show

    path = shipped("examples") / EXAMPLE
    if not path.exists():
        raise Trouble(f"the example show is missing from this installation: {path}")
    return load_show(path, profiles)


@contextlib.contextmanager
def copy_of(show: Show, room: DemoRoom) -> Iterator[Path]:
    """A copy in a temporary folder, its packets pointed at the room; the folder goes at the end."""
    import shutil
    import tempfile

    from onecrew.show.save import save_show
    from onecrew.show.show import Output, Remote, Sacn, SacnUniverse

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
    from onecrew.cli.engine import stop
    from onecrew.cli.reach import running_shows
    from onecrew.engine.endpoint import files_of

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
