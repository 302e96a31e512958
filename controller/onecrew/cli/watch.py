"""``onecrew watch``: what arrives on the wire, from any source."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from onecrew.cli.exits import DONE, endings_are_interrupts
from onecrew.cli.parts import existing_show, print_json
from onecrew.cli.reach import running_shows
from onecrew.cli.watch_hints import by_multicast, hints, multicast_interface
from onecrew.cli.wire_view import View, changes, facts, lines
from onecrew.engine.client import Client
from onecrew.errors import OnecrewError, Trouble
from onecrew.fixtures.decoder import Seen
from onecrew.fixtures.virtual_room import VirtualRoom
from onecrew.language.names import universe
from onecrew.language.reading import seconds, whole
from onecrew.network.receiver import Receiver
from onecrew.show.destination import SACN_PORT
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.terminal import printable, write_raw

LOOK_S = 0.25
PATIENCE_S = 3.0
"""How long nothing arrives before it is said why that may be: keep-alives come every second."""
JSON_EVERY_S = 1.0
ALTERNATE, BACK = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
HOME, CLEAR_LINE, CLEAR_BELOW = "\x1b[H", "\x1b[K", "\x1b[J"


def run(arguments: argparse.Namespace) -> int:
    universes = {universe(text) for text in arguments.universe}
    port = whole(arguments.port, "port", 1, 65535)
    limit_s = None if arguments.seconds is None else seconds(arguments.seconds, "--for", 86400.0)
    show = _show(arguments.show)
    if show is not None and not universes:
        universes = {fixture.universe for fixture in show.rig.fixtures}
    if arguments.multicast and not universes:
        universes = {1}
    listener = _Listener(arguments.interface, port, universes or None, show, arguments.multicast)
    display: Callable[[View, bool], None] = _json(limit_s) if arguments.json else _lines(listener)
    with contextlib.suppress(KeyboardInterrupt), endings_are_interrupts():
        asyncio.run(_watch(listener, arguments.show, limit_s, display))
    return DONE


def _show(path: Path | None) -> Show | None:
    if path is None:
        return None

    return load_show(existing_show(path), load_profiles(beside=path))


@dataclass
class _Listener:
    """Where to listen."""

    interface: str | None
    port: int
    universes: set[int] | None
    show: Show | None
    joined: bool
    """Multicast is listened to: because it was asked for, or because the show sends by it."""

    async def open(self) -> Receiver:
        """Listens, if need be in place of an engine of this user that does so for its Rig screen."""
        try:
            return await self._open()
        except Trouble:
            if self.port != SACN_PORT or not await engines_give_up_the_port():
                raise
            return await self._open()

    async def _open(self) -> Receiver:
        """Listens; groups that nobody asked for and that cannot be joined are left alone."""
        host = self.interface or "0.0.0.0"
        grouped = set() if self.show is None or self.joined else set(by_multicast(self.show))
        if self.show is not None and self.universes and self.universes & grouped:
            groups_on = self.interface or multicast_interface(self.show) or host
            with contextlib.suppress(Trouble, ValueError):
                receiver = await Receiver.open(groups_on, self.port, self.universes, True)
                self.joined = True
                return receiver
        return await Receiver.open(host, self.port, self.universes, self.joined)

    def hints(self) -> list[str]:
        """Why nothing may arrive."""
        return hints(self.show, self.port, self.joined)


async def engines_give_up_the_port() -> bool:
    """Has this user's engines stop listening for other sources; whether there is one."""
    asked = False
    for show in running_shows():
        with contextlib.suppress(OnecrewError, OSError):
            client = await Client.attach(show, start=False)
            try:
                await client.ask("sources", release=True)
            finally:
                await client.close()
            asked = True
    return asked


async def _watch(
    listener: _Listener, path: Path | None, limit_s: float | None, display: Callable[[View, bool], None]
) -> None:
    """Looks at the wire until the time is over or it is interrupted; shows the last view in any case."""
    receiver = await listener.open()
    lamps = _lamps(listener.show, path, receiver)
    loop = asyncio.get_running_loop()
    until = None if limit_s is None else loop.time() + limit_s
    try:
        while until is None or loop.time() < until:
            display(_view(receiver, listener.show, lamps), False)
            await asyncio.sleep(LOOK_S if until is None else max(0.0, min(LOOK_S, until - loop.time())))
    finally:
        display(_view(receiver, listener.show, lamps), True)
        receiver.close()


def _lamps(show: Show | None, path: Path | None, receiver: Receiver) -> Callable[[], tuple[Seen, ...]] | None:
    if show is None:
        return None

    room = VirtualRoom(show.rig.fixtures, load_profiles(beside=path), receiver, show.camera.white_balance_k)
    return lambda: tuple(room.lamps())


def _view(receiver: Receiver, show: Show | None, lamps: Callable[[], tuple[Seen, ...]] | None) -> View:
    found = {universe: receiver.levels(universe) for universe in receiver.universes()}
    levels = {universe: slots for universe, slots in found.items() if slots is not None}
    fixtures = () if show is None else show.rig.fixtures
    return View(
        sources=tuple(receiver.sources()),
        levels=levels,
        announced=tuple(receiver.announced()),
        received=receiver.received,
        bad=receiver.bad,
        out_of_order=receiver.out_of_order,
        lamps=None if lamps is None else lamps(),
        unheard=frozenset(fixture.id for fixture in fixtures if fixture.universe not in levels),
    )


def _json(limit_s: float | None) -> Callable[[View, bool], None]:
    """One line a second, or one document at the end."""
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


def _lines(listener: _Listener) -> Callable[[View, bool], None]:
    return _Terminal(listener).display if sys.stdout.isatty() else _Plain(listener).display


class _Plain:
    """Each change a line, and the whole view at the end."""

    def __init__(self, listener: _Listener) -> None:
        self._before: View | None = None
        self._listener = listener
        self._patient_until: float | None = time.monotonic() + PATIENCE_S

    def display(self, view: View, last: bool) -> None:
        if self._before is None:
            groups = " and its multicast groups" if self._listener.joined else ""
            print(f"listening on UDP port {self._listener.port}{groups}", flush=True)
        for line in changes(self._before, view):
            print(f"{datetime.now():%H:%M:%S} {line}", flush=True)
        self._before = view
        if last:
            print("\n".join(lines(view)), flush=True)
        waited = self._patient_until is not None and time.monotonic() > self._patient_until
        if not view.received and self._patient_until is not None and (waited or last):
            self._patient_until = None  # once is enough
            print("\n".join(self._listener.hints()), flush=True)


class _Terminal:
    """One screen drawn over and over; the last view stays behind in the ordinary one."""

    def __init__(self, listener: _Listener) -> None:
        self._title = f"onecrew watch, UDP port {listener.port}; Ctrl-C ends it"
        self._listener = listener
        self._open = False

    def display(self, view: View, last: bool) -> None:
        said = lines(view) if view.received else [*lines(view), "", *self._listener.hints()]
        if last:
            write_raw(BACK if self._open else "")
            print("\n".join(said), flush=True)
            return
        size = shutil.get_terminal_size()
        shown = [printable(line)[: size.columns - 1] for line in (self._title, "", *said)][: size.lines - 1]
        start = "" if self._open else ALTERNATE
        self._open = True
        write_raw(start + HOME + "".join(f"{line}{CLEAR_LINE}\r\n" for line in shown) + CLEAR_BELOW)
