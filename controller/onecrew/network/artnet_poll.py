"""Asking Art-Net nodes who they are."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable

from onecrew.network.artnet_packets import Node, art_poll, parse_poll_reply, port_address_of
from onecrew.network.listening import listening_socket
from onecrew.show.destination import ARTNET_PORT

NODES_MAX = 256
ANSWER_S = 3.0
"""A node answers within a second, later when many do; controllers wait this long (from memory)."""


class Replies(asyncio.DatagramProtocol):
    """Collects answers, one for each node and port-address block it tells of, and who sends ArtDmx."""

    def __init__(self) -> None:
        self.nodes: dict[Node, None] = {}
        self.senders: dict[tuple[str, int], float] = {}
        """When each (host, port-address) was heard last, by the loop's clock."""
        self.bad = 0

    def datagram_received(self, data: bytes, addr: tuple[str | object, int]) -> None:
        host = str(addr[0])
        try:
            node = parse_poll_reply(data, host)
        except ValueError:
            self._sender(data, host)
            return
        if len(self.nodes) < NODES_MAX:
            self.nodes[node] = None

    def _sender(self, data: bytes, host: str) -> None:
        try:
            sender = (host, port_address_of(data))
        except ValueError:
            self.bad += 1
            return
        if sender in self.senders or len(self.senders) < NODES_MAX:
            self.senders[sender] = asyncio.get_running_loop().time()

    def error_received(self, exc: Exception) -> None:
        """An address at which nobody answers is what polling is there to find out."""


async def poll(
    addresses: Iterable[tuple[str, int]],
    *,
    listen: tuple[str, int] = ("0.0.0.0", ARTNET_PORT),
    answer_s: float = ANSWER_S,
) -> list[Node]:
    """Asks each address (IP, port) by unicast and returns the nodes that answered, in order of arrival.

    Nodes answer to Art-Net's own port, so it must be free: raises ``Trouble`` if it is not.
    """
    loop = asyncio.get_running_loop()
    transport, replies = await loop.create_datagram_endpoint(Replies, sock=listening_socket(*listen))
    try:
        for address in addresses:
            transport.sendto(art_poll(), address)
        await asyncio.sleep(answer_s)
    finally:
        transport.close()
    return list(replies.nodes)
