"""A network to hand: sockets that record what leaves and fail as told."""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass, field

from onecrew.network.delivery import Address


def trouble(number: int) -> OSError:
    """The error a real socket would raise, with its number and the system's words."""
    return OSError(number, os.strerror(number))


@dataclass
class FakeSocket:
    """A connected socket on a ``FakeNetwork``."""

    network: FakeNetwork
    address: Address
    closed: bool = False
    pending: list[int] = field(default_factory=list)
    """Errors that the network reports at the next send, as ICMP makes a connected UDP socket do."""

    def send(self, data: bytearray | bytes, /) -> int:
        if self.closed:
            raise trouble(errno.EBADF)
        if self.pending:
            raise trouble(self.pending.pop(0))
        fault = self.network.faults.get(self.address.host, self.network.fault)
        if fault is not None:
            self.network.refused += 1
            raise trouble(fault)
        self.network.left.append((self.address, bytes(data)))
        if self.address.host in self.network.nobody_listens:
            self.pending.append(errno.ECONNREFUSED)
        return len(data)

    def close(self) -> None:
        self.closed = True


@dataclass
class FakeNetwork:
    """``open_socket`` of a test. Set ``fault`` to break every send, ``faults[host]`` to break one."""

    fault: int | None = None
    faults: dict[str, int] = field(default_factory=dict)
    opening_fault: int | None = None
    nobody_listens: set[str] = field(default_factory=set)
    left: list[tuple[Address, bytes]] = field(default_factory=list)
    sockets: list[FakeSocket] = field(default_factory=list)
    refused: int = 0

    def __call__(self, address: Address) -> FakeSocket:
        if self.opening_fault is not None:
            self.refused += 1
            raise trouble(self.opening_fault)
        sock = FakeSocket(self, address)
        self.sockets.append(sock)
        return sock

    @property
    def open_sockets(self) -> list[FakeSocket]:
        return [sock for sock in self.sockets if not sock.closed]

    def to(self, host: str) -> list[bytes]:
        """What has left for one host, in order."""
        return [data for address, data in self.left if address.host == host]
