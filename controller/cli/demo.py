"""``lampwright demo``: the example show on this machine alone, with a virtual room that reads the wire."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.exits import DONE, endings_are_interrupts
from controller.cli.parts import Commands, add, all_profiles
from controller.errors import LampwrightError, Trouble

if TYPE_CHECKING:
    from controller.cli.demo_room import DemoRoom
    from controller.documents.profile import Profile
    from controller.documents.show import Show

EXAMPLE = "night-baker.json"


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
        example="lampwright demo --headless",
    )
    command.add_argument("--headless", action="store_true", help="no screens: run the cues once and compare")


def run(arguments: argparse.Namespace) -> int:
    from controller.cli.demo_room import DemoRoom

    headless = arguments.headless or not (sys.stdin.isatty() and sys.stderr.isatty())
    profiles = all_profiles()
    show = example(profiles)
    with endings_are_interrupts(), DemoRoom(show, profiles) as room, copy_of(show, room) as path:
        try:
            if headless:
                from controller.cli.demo_run import run_cues

                return run_cues(path, show, profiles, room)
            from tui.app import run as run_screens

            run_screens(path, room=room.lamps)
            return DONE
        finally:
            end_engine(path)


def example(profiles: dict[str, Profile]) -> Show:
    """The example show as it ships."""
    import controller
    from controller.documents.load import load_show

    path = Path(controller.__file__).resolve().parent.parent / "examples" / EXAMPLE
    if not path.exists():
        raise Trouble(f"the example show is missing from this installation: {path}")
    return load_show(path, profiles)


@contextlib.contextmanager
def copy_of(show: Show, room: DemoRoom) -> Iterator[Path]:
    """A copy in a temporary folder, its packets pointed at the room; the folder goes at the end."""
    import shutil
    import tempfile

    from controller.documents.save import save_show
    from controller.documents.show import Output, Remote, Sacn, SacnUniverse

    universes = {str(fixture.universe) for fixture in show.rig.fixtures}
    to_room = SacnUniverse(to=(f"127.0.0.1:{room.port}",))
    sacn = Sacn(universes=dict.fromkeys(sorted(universes, key=int), to_room))
    here = show.model_copy(update={"output": Output(sacn=sacn), "remote": Remote()})
    folder = Path(tempfile.mkdtemp(prefix="lampwright-demo-"))
    try:
        path = folder.resolve() / EXAMPLE
        save_show(here, path)
        yield path
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def end_engine(path: Path) -> None:
    """Ends the engine of the copy, if one came up, and takes away the files it kept for itself."""
    from controller.cli.engine import stop
    from controller.cli.reach import running_shows
    from controller.engine.endpoint import files_of

    try:
        if path in running_shows():
            stop(path, fade_s=0.2)
    except LampwrightError as error:
        print(f"lampwright: {error}", file=sys.stderr)
    files = files_of(path)
    for leftover in (files.endpoint, files.lock, files.live, files.log):
        with contextlib.suppress(OSError):
            leftover.unlink()
