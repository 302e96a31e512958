"""Receiver: sACN from the network, on sockets of its own in the running event loop."""

from __future__ import annotations

import asyncio
import socket
import sys
from collections.abc import Callable, Iterable
from typing import Self, cast

from onecrew.errors import Trouble
from onecrew.network.arbiter import Announced, Arbiter, SourceSeen
from onecrew.network.listening import bound, listening_socket
from onecrew.network.sacn_packets import DISCOVERY_UNIVERSE, multicast_address
from onecrew.show.destination import SACN_PORT

GROUPS_PER_SOCKET = 20
"""Linux lets one socket join 20 groups (net.ipv4.igmp_max_memberships)."""
GROUPS_MAX = 512
LINUX_IP_MULTICAST_ALL = 49
"""ip(7); Python has no name for it. Off: a socket hears the groups it joined, not those of its neighbours."""
Clock = Callable[[], float]


class Receiver(asyncio.DatagramProtocol):
    """Listens for sACN and says which levels count; rules as in ``Arbiter``. ``close`` it when done."""

    def __init__(self, arbiter: Arbiter, clock: Clock) -> None:
        self._arbiter = arbiter
        self._clock = clock
        self._transports: list[asyncio.DatagramTransport] = []

    @classmethod
    async def open(
        cls,
        host: str = "127.0.0.1",
        port: int = SACN_PORT,
        universes: Iterable[int] | None = None,
        multicast: bool = False,
    ) -> Self:
        """Starts to listen; ``universes`` None takes whatever arrives.

        Without ``multicast``, ``host`` is the address listened on, and the port is ours alone. With it, the
        groups of ``universes`` and of universe discovery are joined on the interface with the address
        ``host`` ("0.0.0.0": the system's choice) and unicast to this machine is heard as well.

        Raises ``Trouble`` with a sentence when the port is taken or the address is not this machine's, and
        ``ValueError`` for multicast without universes or with more than 512.
        """
        listed = None if universes is None else sorted(set(universes))
        loop = asyncio.get_running_loop()
        receiver = cls(Arbiter(listed), loop.time)
        sockets = _multicast_sockets(host, port, listed) if multicast else [listening_socket(host, port)]
        try:
            while sockets:
                await loop.create_datagram_endpoint(lambda: receiver, sock=sockets[0])
                sockets.pop(0)
        except BaseException:
            receiver.close()
            raise
        finally:
            for sock in sockets:
                sock.close()
        return receiver

    @property
    def port(self) -> int:
        """The port listened on, also where 0 was asked for."""
        return int(self._transports[0].get_extra_info("sockname")[1])

    @property
    def received(self) -> int:
        """Datagrams that arrived."""
        return self._arbiter.received

    @property
    def bad(self) -> int:
        """Datagrams that are no E1.31 packets."""
        return self._arbiter.bad

    @property
    def out_of_order(self) -> int:
        """Packets discarded by the sequence rule."""
        return self._arbiter.out_of_order

    @property
    def crowded_out(self) -> int:
        """Packets of more sources or universes than are kept."""
        return self._arbiter.crowded_out

    def levels(self, universe: int, now: float | None = None) -> bytes | None:
        """The 512 levels of a universe, None if no source counts; ``now`` defaults to the loop's time."""
        return self._arbiter.levels(universe, self._at(now))

    def universes(self, now: float | None = None) -> tuple[int, ...]:
        """The universes on which a source is heard, in order."""
        return self._arbiter.universes(self._at(now))

    def sources(self, now: float | None = None) -> list[SourceSeen]:
        """Every source that is heard, by universe and then by falling priority."""
        return self._arbiter.sources(self._at(now))

    def announced(self, now: float | None = None) -> list[Announced]:
        """What sources say by universe discovery that they send."""
        return self._arbiter.announced(self._at(now))

    def close(self) -> None:
        """Stops listening; what was heard can still be asked."""
        for transport in self._transports:
            transport.close()

    # ── asyncio's side ──────────────────────────────────────────────────────────────────────────

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transports.append(cast(asyncio.DatagramTransport, transport))

    def datagram_received(self, data: bytes, addr: tuple[str | object, int]) -> None:
        self._arbiter.take(data, self._clock(), str(addr[0]))

    def error_received(self, exc: Exception) -> None:
        """What the network reports on a socket that only listens changes nothing."""

    def _at(self, now: float | None) -> float:
        return self._clock() if now is None else now


def _multicast_sockets(host: str, port: int, universes: list[int] | None) -> list[socket.socket]:
    """Groups can be shared, so the port is too: every program that joined a group hears it."""
    if not universes or len(universes) > GROUPS_MAX:
        raise ValueError(f"name the universes to listen to, at most {GROUPS_MAX}")
    groups = [multicast_address(universe) for universe in (*universes, DISCOVERY_UNIVERSE)]
    sockets: list[socket.socket] = []
    try:
        for start in range(0, len(groups), GROUPS_PER_SOCKET):
            sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if sys.platform == "darwin":
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
            elif sys.platform == "linux":
                sock.setsockopt(socket.IPPROTO_IP, LINUX_IP_MULTICAST_ALL, 0)
            sockets.append(bound(sock, "", port))
            port = sock.getsockname()[1]
            for group in groups[start : start + GROUPS_PER_SOCKET]:
                _join(sock, group, host)
    except BaseException:
        for sock in sockets:
            sock.close()
        raise
    return sockets


def _join(sock: socket.socket, group: str, interface: str) -> None:
    try:
        sock.setsockopt(
            socket.IPPROTO_IP,
            socket.IP_ADD_MEMBERSHIP,
            socket.inet_aton(group) + socket.inet_aton(interface),
        )
    except OSError as error:
        raise Trouble(
            f"cannot listen to the multicast group {group} on {interface}: {error.strerror or error}"
        ) from error
