"""The demo's room: a receiver on a port of its own, in a thread of its own, and the lamps it makes out."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from onecrew.errors import Trouble
from onecrew.fixtures.decoder import Seen
from onecrew.fixtures.virtual_room import VirtualRoom
from onecrew.network.receiver import Receiver
from onecrew.show.profile import Profile
from onecrew.show.show import Show

HOST = "127.0.0.1"
OPENING_S = 5.0
LOOK_S = 0.03
"""How often the room looks at what has arrived."""


@dataclass(frozen=True, slots=True)
class RoomReading:
    """What the room saw at one moment."""

    lamps: tuple[Seen, ...]
    slots: Mapping[int, bytes]
    """By universe; one that nobody sends is left out."""
    bad: int
    """Packets so far that were no sACN."""


class DemoRoom:
    """Knows the patch, the profiles and the packets; nothing of the engine. A context manager."""

    def __init__(self, show: Show, profiles: Mapping[str, Profile]) -> None:
        self.port = 0
        self._show = show
        self._profiles = profiles
        self._sight = RoomReading((), {}, 0)
        self._opened = threading.Event()
        self._ending = threading.Event()
        self._trouble: BaseException | None = None
        self._thread = threading.Thread(target=self._live, name="demo room", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        if not self._opened.wait(OPENING_S):
            raise Trouble("the virtual room did not open")
        if self._trouble is not None:
            raise self._trouble
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ending.set()
        self._thread.join(OPENING_S)

    def reading(self) -> RoomReading:
        """The latest view, not older than ``LOOK_S``."""
        return self._sight

    def lamps(self) -> tuple[Seen, ...]:
        """What each lamp gives now, in rig order."""
        return self._sight.lamps

    def _live(self) -> None:
        try:
            asyncio.run(self._watch())
        except BaseException as error:  # noqa: BLE001 — handed to the thread that waits for the opening
            self._trouble = error
        finally:
            self._opened.set()

    async def _watch(self) -> None:
        fixtures = self._show.rig.fixtures
        universes = sorted({fixture.universe for fixture in fixtures})
        receiver = await Receiver.open(HOST, 0, universes)
        try:
            room = VirtualRoom(fixtures, self._profiles, receiver, self._show.camera.white_balance_k)
            self.port = receiver.port
            self._look(room, receiver, universes)
            self._opened.set()
            while not self._ending.is_set():
                await asyncio.sleep(LOOK_S)
                self._look(room, receiver, universes)
        finally:
            receiver.close()

    def _look(self, room: VirtualRoom[object], receiver: Receiver, universes: list[int]) -> None:
        now = time.monotonic()
        arrived = {universe: receiver.levels(universe, now) for universe in universes}
        slots = {universe: levels for universe, levels in arrived.items() if levels is not None}
        self._sight = RoomReading(tuple(room.lamps()), slots, receiver.bad)
