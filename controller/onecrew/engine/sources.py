"""Sources: who else sends light on this network, listened for only while somebody asks.

A receiver takes the sACN port of this machine for itself, so it is opened by the first question and closed
again soon after the last one: `onecrew watch` and other programs get the port back.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from onecrew.errors import Trouble
from onecrew.network.receiver import Receiver
from onecrew.show.destination import SACN_PORT, parse_destination
from onecrew.show.show import Show

PATIENCE_S = 10.0
"""How long the receiver listens on after the last question."""
FIRST_LOOK_S = 0.3
"""How long the first answer waits: a stream that moves sends several packets in this time."""


class Sources:
    """Answers which sources are heard on the universes of the show, by multicast and by unicast to here."""

    def __init__(self, own: UUID, port: int = SACN_PORT) -> None:
        """``own`` is the CID that this engine sends under."""
        self._own = own
        self._port = port
        self._receiver: Receiver | None = None
        self._listens_to: tuple[tuple[int, ...], str] | None = None
        self._closing: asyncio.TimerHandle | None = None

    async def answer(self, show: Show, universes: Sequence[int]) -> dict[str, Any]:
        """``{"listening", "note", "sources": […]}``; the note is a sentence where nothing can be heard."""
        wanted = (tuple(universes), "127.0.0.1" if stays_here(show, universes) else "0.0.0.0")
        if self._receiver is not None and wanted != self._listens_to:
            self.close()
        if self._receiver is None:
            try:
                self._receiver = await self._open(*wanted)
            except (Trouble, OSError, ValueError) as error:
                return {"listening": False, "note": str(error), "sources": []}
            self._listens_to = wanted
            await asyncio.sleep(FIRST_LOOK_S)
        self._stay_open()
        now = asyncio.get_running_loop().time()
        return {
            "listening": True,
            "note": "",
            "sources": [
                {
                    "name": seen.name,
                    "address": seen.host,
                    "universe": seen.universe,
                    "priority": seen.priority,
                    "ours": seen.cid == self._own,
                    "protocol": "sacn",
                }
                for seen in (self._receiver.sources(now) if self._receiver is not None else ())
            ],
        }

    def close(self) -> None:
        """Gives the port back."""
        if self._closing is not None:
            self._closing.cancel()
            self._closing = None
        if self._receiver is not None:
            self._receiver.close()
            self._receiver = None

    async def _open(self, universes: tuple[int, ...], host: str) -> Receiver:
        if not universes:
            raise ValueError("no lamp is patched yet, so there is no universe to listen to")
        try:
            return await Receiver.open(host, self._port, universes, multicast=True)
        except (Trouble, OSError):  # no network, or no multicast on it: hear at least this machine
            return await Receiver.open("127.0.0.1", self._port, universes)

    def _stay_open(self) -> None:
        if self._closing is not None:
            self._closing.cancel()
        self._closing = asyncio.get_running_loop().call_later(PATIENCE_S, self.close)


def stays_here(show: Show, universes: Sequence[int]) -> bool:
    """Whether all light of the show goes to this machine alone: then nothing else is listened for either."""
    settings = show.output.sacn.universes
    ways = [settings[str(universe)].to if str(universe) in settings else () for universe in universes]
    return all(ways) and all(
        ipaddress.ip_address(parse_destination(to)[0]).is_loopback for way in ways for to in way
    )
