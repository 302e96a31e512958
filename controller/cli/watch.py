"""``lampwright watch``: what arrives on the wire, from any source."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.exits import DONE, Misuse, endings_are_interrupts
from controller.cli.parts import Commands, add, add_json, all_profiles, existing_show, print_json

if TYPE_CHECKING:
    from controller.cli.wire_view import View
    from controller.documents.show import Show
    from controller.output.decoder import Seen
    from controller.output.receiver import Receiver

LOOK_S = 0.25
JSON_EVERY_S = 1.0
ALTERNATE, BACK = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
HOME, CLEAR_LINE, CLEAR_BELOW = "\x1b[H", "\x1b[K", "\x1b[J"


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "watch",
        run,
        does="show what arrives on the wire, from any source",
        more="The first tool when a lamp does not answer. Run it on the machine that the packets go to.\n"
        "With a show, its patch turns what arrives into what each lamp would do. In a terminal the table\n"
        "refreshes; elsewhere each change is a line. --json prints one line a second, or with --for one\n"
        "document at the end.",
        example="lampwright watch night-baker.json --multicast --for 10",
    )
    command.add_argument("show", nargs="?", type=Path, metavar="SHOW", help="decode its lamps as well")
    command.add_argument("--port", default="5568", metavar="PORT", help="UDP port (5568)")
    command.add_argument("--universe", action="append", default=[], metavar="N", help="only this; repeatable")
    command.add_argument("--multicast", action="store_true", help="join the universes' multicast groups")
    command.add_argument("--interface", metavar="ADDRESS", help="address of this machine to listen on (all)")
    command.add_argument("--for", dest="seconds", metavar="SECONDS", help="end after so long (until Ctrl-C)")
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    import asyncio

    from controller.cli.readings import seconds

    universes = {_whole(text, 63999, "universe") for text in arguments.universe}
    port = _whole(arguments.port, 65535, "port")
    limit_s = None if arguments.seconds is None else seconds(arguments.seconds, "--for", 86400.0)
    show = _show(arguments.show)
    if show is not None and not universes:
        universes = {fixture.universe for fixture in show.rig.fixtures}
    if arguments.multicast and not universes:
        universes = {1}
    display: Callable[[View, bool], None] = _json(limit_s) if arguments.json else _lines(port)
    with contextlib.suppress(KeyboardInterrupt), endings_are_interrupts():
        asyncio.run(_watch(arguments, port, universes or None, show, limit_s, display))
    return DONE


def _show(path: Path | None) -> Show | None:
    if path is None:
        return None
    from controller.documents.load import load_show

    return load_show(existing_show(path), all_profiles(path))


def _whole(text: str, high: int, what: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= high):
        raise Misuse(f"{what} is a whole number from 1 to {high}, not '{text}'")
    return int(text)


async def _watch(
    arguments: argparse.Namespace,
    port: int,
    universes: set[int] | None,
    show: Show | None,
    limit_s: float | None,
    display: Callable[[View, bool], None],
) -> None:
    """Looks at the wire until the time is over or it is interrupted; shows the last view in any case."""
    import asyncio

    from controller.output.receiver import Receiver

    host = arguments.interface or "0.0.0.0"
    receiver = await Receiver.open(host, port, universes, arguments.multicast)
    lamps = _lamps(show, arguments.show, receiver)
    loop = asyncio.get_running_loop()
    until = None if limit_s is None else loop.time() + limit_s
    try:
        while until is None or loop.time() < until:
            display(_view(receiver, lamps), False)
            await asyncio.sleep(LOOK_S if until is None else max(0.0, min(LOOK_S, until - loop.time())))
    finally:
        display(_view(receiver, lamps), True)
        receiver.close()


def _lamps(show: Show | None, path: Path | None, receiver: Receiver) -> Callable[[], tuple[Seen, ...]] | None:
    if show is None:
        return None
    from controller.output.virtual_room import VirtualRoom

    room = VirtualRoom(show.rig.fixtures, all_profiles(path), receiver, show.camera.white_balance_k)
    return lambda: tuple(room.lamps())


def _view(receiver: Receiver, lamps: Callable[[], tuple[Seen, ...]] | None) -> View:
    from controller.cli.wire_view import View

    levels = {universe: receiver.levels(universe) for universe in receiver.universes()}
    return View(
        sources=tuple(receiver.sources()),
        levels={universe: slots for universe, slots in levels.items() if slots is not None},
        announced=tuple(receiver.announced()),
        received=receiver.received,
        bad=receiver.bad,
        out_of_order=receiver.out_of_order,
        lamps=None if lamps is None else lamps(),
    )


def _json(limit_s: float | None) -> Callable[[View, bool], None]:
    """One line a second, or one document at the end."""
    import json
    import time

    from controller.cli.wire_view import facts

    due = 0.0

    def display(view: View, last: bool) -> None:
        nonlocal due
        if limit_s is not None:
            if last:
                print_json(facts(view))
        elif not last and time.monotonic() >= due:
            due = time.monotonic() + JSON_EVERY_S
            print(json.dumps(facts(view), ensure_ascii=False), flush=True)

    return display


def _lines(port: int) -> Callable[[View, bool], None]:
    return _Terminal(port).display if sys.stdout.isatty() else _Plain(port).display


class _Plain:
    """Each change a line, and the whole view at the end."""

    def __init__(self, port: int) -> None:
        self._before: View | None = None
        self._port = port

    def display(self, view: View, last: bool) -> None:
        from datetime import datetime

        from controller.cli.wire_view import changes, lines

        if self._before is None:
            print(f"listening on UDP port {self._port}", flush=True)
        for line in changes(self._before, view):
            print(f"{datetime.now():%H:%M:%S} {line}", flush=True)
        self._before = view
        if last:
            print("\n".join(lines(view)), flush=True)


class _Terminal:
    """One screen drawn over and over; the last view stays behind in the ordinary one."""

    def __init__(self, port: int) -> None:
        self._title = f"lampwright watch, UDP port {port}; Ctrl-C ends it"
        self._open = False

    def display(self, view: View, last: bool) -> None:
        import shutil

        from controller.cli.wire_view import lines

        said = lines(view) if view.received else [*lines(view), "", *NOTHING]
        if last:
            sys.stdout.write((BACK if self._open else "") + "\n".join(said) + "\n")
            sys.stdout.flush()
            return
        size = shutil.get_terminal_size()
        shown = [line[: size.columns - 1] for line in (self._title, "", *said)][: size.lines - 1]
        start = "" if self._open else ALTERNATE
        self._open = True
        sys.stdout.write(start + HOME + "".join(f"{line}{CLEAR_LINE}\r\n" for line in shown) + CLEAR_BELOW)
        sys.stdout.flush()


NOTHING = (
    "Nothing arrives yet. Unicast must be sent to an address of this machine;",
    "multicast is heard with --multicast and the universes' numbers.",
)
