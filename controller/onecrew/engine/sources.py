"""Sources: who else sends light on this network, listened for only while somebody asks.

A receiver takes the sACN port of this machine for itself, so it is opened by the first question and closed
again soon after the last one, or at once when `onecrew watch` asks for the port.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any
from uuid import UUID

from onecrew.engine.late_imports import imported
from onecrew.errors import Trouble
from onecrew.network.artnet_packets import art_poll
from onecrew.network.ip import is_of_this_machine
from onecrew.network.listening import listening_socket
from onecrew.show.destination import ARTNET_PORT, SACN_PORT, parse_destination
from onecrew.show.show import Artnet, Show

if TYPE_CHECKING:
    from onecrew.network.artnet_poll import Replies
    from onecrew.network.receiver import Receiver

PATIENCE_S = 10.0
"""How long the receiver listens on after the last question."""
MOST_ASKED = 64
"""Art-Net destinations that are asked."""
RELEASED_S = 5.0
"""How long whoever asked for the port has to take it."""
RELEASED = "the port was given to `onecrew watch`, which listens in place of this desk"
FIRST_LOOK_S = 0.3
"""How long the first answer waits: a stream that moves sends several packets in this time."""


class Sources:
    """Answers which sources are heard on the universes of the show, by multicast and by unicast to here."""

    def __init__(self, own: UUID, port: int = SACN_PORT, artnet_port: int = ARTNET_PORT) -> None:
        """``own`` is the CID that this engine sends under."""
        self._artnet_port = artnet_port
        self._nodes: tuple[asyncio.DatagramTransport, Replies] | None = None
        self._own = own
        self._port = port
        self._receiver: Receiver | None = None
        self._listens_to: tuple[tuple[int, ...], str] | None = None
        self._closing: asyncio.TimerHandle | None = None
        self._released_until = -float("inf")

    def release(self) -> dict[str, Any]:
        """Gives the port to whoever asks for it, and keeps away from it for a moment."""
        self.close()
        self._released_until = asyncio.get_running_loop().time() + RELEASED_S
        return {"listening": False, "note": RELEASED, "sources": []}

    async def answer(self, show: Show, universes: Sequence[int]) -> dict[str, Any]:
        """``{"listening", "note", "sources": […]}``; the note is a sentence where nothing can be heard.

        Of a show that sends Art-Net also ``"nodes"``, those that answered at its destinations, and
        ``"nodes_note"``.
        """
        told = await self._sacn(show, universes)
        if show.output.artnet is None or not show.output.artnet.universes:
            return told
        return await self._artnet(show.output.artnet, told)

    async def _artnet(self, artnet: Artnet, told: dict[str, Any]) -> dict[str, Any]:
        """Ask the nodes, and say who answered so far and who else sends Art-Net to this machine."""
        loop = asyncio.get_running_loop()
        named = [to for universe in artnet.universes.values() for to in universe.to]
        ways = list(dict.fromkeys(parse_destination(to, ARTNET_PORT) for to in named))[:MOST_ASKED]
        here = all(ipaddress.ip_address(host).is_loopback for host, _ in ways)
        made = (await imported("onecrew.network.artnet_poll")).Replies
        if self._nodes is None:
            try:
                sock = listening_socket("127.0.0.1" if here else "0.0.0.0", self._artnet_port)
                self._nodes = await loop.create_datagram_endpoint(made, sock=sock)
            except (Trouble, OSError) as error:
                return {**told, "nodes": [], "nodes_note": str(error)}
        transport, replies = self._nodes
        for way in ways:
            transport.sendto(art_poll(), way)
        self._stay_open()
        await asyncio.sleep(0.0 if replies.nodes else FIRST_LOOK_S)
        senders = [
            {"name": "Art-Net", "address": host, "universe": address, "priority": 0,
             "ours": is_of_this_machine(host), "protocol": "artnet"}
            for (host, address), at in replies.senders.items() if loop.time() - at < PATIENCE_S
        ]  # fmt: skip
        nodes = [
            {"name": node.long_name or node.short_name, "address": node.host, "outputs": list(node.outputs)}
            for node in replies.nodes
        ]
        return {**told, "sources": [*told["sources"], *senders], "nodes": nodes, "nodes_note": ""}

    async def _sacn(self, show: Show, universes: Sequence[int]) -> dict[str, Any]:
        wanted = (tuple(universes), "127.0.0.1" if stays_here(show, universes) else "0.0.0.0")
        if self._receiver is not None and wanted != self._listens_to:
            self.close()
        if self._receiver is None:
            if asyncio.get_running_loop().time() < self._released_until:
                return {"listening": False, "note": RELEASED, "sources": []}
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
        if self._nodes is not None:
            self._nodes[0].close()
            self._nodes = None

    async def _open(self, universes: tuple[int, ...], host: str) -> Receiver:
        if not universes:
            raise ValueError("no lamp is patched yet, so there is no universe to listen to")
        opened = (await imported("onecrew.network.receiver")).Receiver.open
        try:
            receiver: Receiver = await opened(host, self._port, universes, multicast=True)
        except (Trouble, OSError):  # no network, or no multicast on it: hear at least this machine
            receiver = await opened("127.0.0.1", self._port, universes)
        return receiver

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
