"""Delivery: packets to one address on the network, through whatever the network does meanwhile.

Nothing here raises when the network is away: a failure is a state, the next tick tries again, and the socket
is made anew when the old one may be what is broken.
"""

from __future__ import annotations

import contextlib
import errno
import socket
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal, Protocol

from onecrew.network.interface import interface_down
from onecrew.network.pacing import NEVER_S, PERIOD_S, ROUNDING_S
from onecrew.show.snapshot import OutputState

MULTICAST_TTL = 8
"""Hops of a multicast packet; one room needs one, a routed house a few (common practice, no source)."""
REMARK_S = 6.0
"""How long 'nobody answers there' stands after the network last said so. It says so again every 3 to 4 s."""
LOOK_S = 0.25
"""How often the interface of a multicast is looked at."""
LINUX_IP_RECVERR, LINUX_IPV6_RECVERR = 11, 25
"""ip(7), ipv6(7); Python has no names for them. On: a machine that is not there is reported too."""

FULL = frozenset({errno.EAGAIN, errno.EWOULDBLOCK, errno.ENOBUFS})
"""The packet found no room; the socket itself is sound."""
REFUSED = frozenset({errno.ECONNREFUSED, errno.ECONNRESET})
"""An earlier packet found the machine but no program listening; Windows says ECONNRESET."""
REPORTED = REFUSED | {errno.EHOSTUNREACH, getattr(errno, "EHOSTDOWN", -1)}
"""What a connected UDP socket raises for an earlier packet; the one in hand has then not been sent."""
WORDS = {
    errno.EAGAIN: "the send buffer of this machine is full",
    errno.ENOBUFS: "the send buffer of this machine is full",
    errno.ECONNREFUSED: "nothing listens there: is this the lamp's address, and is its network input on?",
    errno.ECONNRESET: "nothing listens there: is this the lamp's address, and is its network input on?",
    errno.EHOSTUNREACH: "nobody answers at this address: is the lamp on, and on this network?",
    errno.ENETUNREACH: "there is no way to this network: is this machine connected to it?",
    errno.ENETDOWN: "the network of this machine is down",
    errno.EADDRNOTAVAIL: "this machine no longer has the address that it sends from",
    errno.ENODEV: "the network interface is gone",
    errno.EPERM: "a firewall on this machine holds the packets back",
    errno.EACCES: "this machine does not allow packets to this address",
}


@dataclass(frozen=True, slots=True)
class Address:
    """Where packets go: one receiver, or a multicast group by a chosen interface (its IPv4 address)."""

    host: str
    port: int
    multicast: bool = False
    interface: str | None = None


class Sender(Protocol):
    """What is asked of a socket: it is connected, and ``send`` returns or raises ``OSError`` at once."""

    def send(self, data: bytearray | bytes, /) -> int: ...
    def close(self) -> None: ...


OpenSocket = Callable[[Address], Sender]
"""Opens a socket to an address; raises ``OSError`` if the network will not have it."""


def open_udp(address: Address) -> socket.socket:
    """A non-blocking UDP socket, connected, on a source port that the system picks."""
    sock = socket.socket(socket.AF_INET6 if ":" in address.host else socket.AF_INET, socket.SOCK_DGRAM)
    try:
        sock.setblocking(False)
        if sys.platform == "linux" and not address.multicast:
            if sock.family == socket.AF_INET6:
                sock.setsockopt(socket.IPPROTO_IPV6, LINUX_IPV6_RECVERR, 1)
            else:
                sock.setsockopt(socket.IPPROTO_IP, LINUX_IP_RECVERR, 1)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)  # reports that nobody reads stay few
        if address.multicast:
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, MULTICAST_TTL)
            if address.interface is not None:
                packed = socket.inet_aton(address.interface)
                sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, packed)
        sock.connect((address.host, address.port))
    except OSError:
        sock.close()
        raise
    return sock


class AddressSocket:
    """The socket to one address, opened when first needed and remade when it breaks."""

    __slots__ = ("_open", "_socket", "address")

    def __init__(self, address: Address, open_socket: OpenSocket) -> None:
        self.address = address
        self._open = open_socket
        self._socket: Sender | None = None

    def send(self, packet: bytearray | bytes) -> OSError | None:
        """Sends one packet; raises ``OSError`` if it did not leave.

        Returns what the network reported about an earlier packet, if it did: that one may have been lost
        (nobody listens, nobody there), this one has left.
        """
        sock = self._socket or self._reopened()
        try:
            sock.send(packet)
        except OSError as error:
            if error.errno in FULL:
                raise
            return self._send_again(packet, error)
        return None

    def down(self) -> str:
        """The interface that a multicast leaves by, if it carries nothing; empty where all is well."""
        if self.address.multicast and isinstance(self._socket, socket.socket):
            with contextlib.suppress(OSError):
                return interface_down(self._socket.getsockname()[0])
        return ""

    def close(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send_again(self, packet: bytearray | bytes, error: OSError) -> OSError | None:
        reported = error.errno in REPORTED
        sock = (self._socket if reported else None) or self._reopened()
        try:
            sock.send(packet)
        except OSError as again:
            if again.errno not in FULL:
                self.close()
            raise
        return error if reported else None

    def _reopened(self) -> Sender:
        self.close()
        self._socket = self._open(self.address)
        return self._socket


class Delivery:
    """One universe on its way to one address: what has left, what is owed, and how it stands."""

    __slots__ = (
        "_down",
        "_error",
        "_failing",
        "_look_at_s",
        "_not_before_s",
        "_remark_until_s",
        "_socket",
        "errors",
        "owes",
        "sent",
        "to",
    )

    def __init__(self, address_socket: AddressSocket, to: str) -> None:
        """``to`` is what the user calls this destination."""
        self.to = to
        self.sent = 0
        self.errors = 0
        self.owes = False
        """Whether the latest packet has yet to leave for here."""
        self._socket = address_socket
        self._not_before_s = -NEVER_S
        self._failing = False
        self._error = ""
        self._remark_until_s = -NEVER_S
        self._down = ""
        self._look_at_s = -NEVER_S

    @property
    def address(self) -> Address:
        return self._socket.address

    def send(self, packet: bytearray | bytes, now: float) -> bool:
        """Sends the packet, or owes it: until a frame after the last try, and while the network is away.

        True if it left.
        """
        if now + ROUNDING_S < self._not_before_s:
            self.owes = True
            return False
        self._not_before_s = now + PERIOD_S
        try:
            reported = self._socket.send(packet)
        except OSError as error:
            self._failed(error)
            return False
        if self._lost(now):
            return False
        self.sent += 1
        self.owes = self._failing = False
        if reported is not None:
            self._reported(reported, now)
        elif self._error and now >= self._remark_until_s:
            self._error = ""
        return True

    def retry_at(self) -> float:
        """When the owed packet may be tried again; infinity if nothing is owed."""
        return self._not_before_s if self.owes else NEVER_S

    def state(self, universe: int, protocol: Literal["sacn", "artnet"]) -> OutputState:
        standing: Literal["ok", "waiting", "failing"] = "ok" if self.sent else "waiting"
        return OutputState(
            universe=universe,
            protocol=protocol,
            to=self.to,
            state="failing" if self._failing else standing,
            sent=self.sent,
            errors=self.errors,
            error=self._error,
        )

    def _lost(self, now: float) -> bool:
        """Whether a packet that the system took went nowhere; it is owed then, and tried again."""
        if now >= self._look_at_s:
            self._look_at_s = now + LOOK_S
            self._down = self._socket.down()
        if self._down:
            said = f"the network interface {self._down} is down: is its cable in, its Wi-Fi on?"
            self._failed(OSError(0, said))
        return bool(self._down)

    def _failed(self, error: OSError) -> None:
        self.owes = self._failing = True
        self.errors += 1
        self._error = in_words(error)
        self._remark_until_s = -NEVER_S

    def _reported(self, error: OSError, now: float) -> None:
        """Nobody listening is no fault of the sending: a remark. A machine not there is an error."""
        self.errors += error.errno not in REFUSED
        self._error = in_words(error)
        self._remark_until_s = now + REMARK_S


class AddressSockets:
    """The sockets in use, one for each address however many universes go there."""

    def __init__(self, open_socket: OpenSocket = open_udp) -> None:
        self._open = open_socket
        self._sockets: dict[Address, AddressSocket] = {}

    def to(self, address: Address) -> AddressSocket:
        return self._sockets.setdefault(address, AddressSocket(address, self._open))

    def keep(self, addresses: Iterable[Address]) -> None:
        """Closes every socket but these."""
        kept = set(addresses)
        for address in self._sockets.keys() - kept:
            self._sockets.pop(address).close()


def in_words(error: OSError) -> str:
    """What went wrong, for the user; the system's own words where there are none better."""
    return WORDS.get(error.errno or 0, error.strerror or str(error))
