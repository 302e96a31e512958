"""What an engine does with an output, on a simulated clock, and where it sends in these tests."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from onecrew.network.sacn_output import SacnOutput
from onecrew.show.show import Sacn, SacnUniverse
from tests.fakes.sockets import FakeNetwork
from tests.wire.e131_layout import Packet, parse

CID = UUID(bytes=bytes(range(16)))
FRAME_S = 1 / 44
LAMP = "192.0.2.50"  # RFC 5737: addresses for examples; no packet goes there, the network is a fake
OTHER_LAMP = "192.0.2.51"


def slots(*first: int) -> NDArray[np.uint8]:
    """One row a universe, its first slot as given, the rest dark."""
    rows = np.zeros((len(first), 512), np.uint8)
    rows[:, 0] = first
    return rows


def sacn(universes: Mapping[int, tuple[str, ...]], **settings: object) -> Sacn:
    """Settings with these destinations by universe; an empty tuple is multicast."""
    listed = {str(universe): SacnUniverse(to=to) for universe, to in universes.items()}
    return Sacn.model_validate({**settings, "universes": listed})


def output(
    settings: Sacn, network: FakeNetwork, universes: tuple[int, ...] = (), now: float = 0.0
) -> SacnOutput:
    numbers = universes or tuple(int(number) for number in settings.universes)
    return SacnOutput(settings, numbers, CID, "bakery", {}, now, open_socket=network)


def receiver_accepts(newest: int, number: int) -> bool:
    """§6.7.2, from the text: discard if the signed 8-bit difference is in (−20, 0]."""
    difference = (number - newest + 128) % 256 - 128
    return not -20 < difference <= 0


class Drive:
    """Calls an output whenever it asks for it, and keeps what left with the time it left."""

    def __init__(self, out: SacnOutput, network: FakeNetwork, now: float = 0.0) -> None:
        self.out = out
        self.network = network
        self.now = now
        self.log: list[tuple[float, str, Packet]] = []

    def send(self, rows: NDArray[np.uint8] | None, at: float) -> None:
        """Calls ``send`` once, at this time."""
        self.now = at
        before = len(self.network.left)
        self.out.send(rows, at)
        self.log += [(at, address.host, parse(data)) for address, data in self.network.left[before:]]

    def until(self, end: float) -> None:
        """Lets time pass; at most one call a microsecond of it, so that no test can hang."""
        calls = 0
        while (due := self.out.next_due(self.now)) <= end:
            self.send(None, due)
            calls += 1
            assert calls < 100_000, "next_due does not move on"
        self.now = end

    def times(self, host: str | None = None, kind: str = "data") -> list[float]:
        return [at for at, to, packet in self.log if host in (None, to) and packet.kind == kind]

    def packets(self, host: str | None = None, kind: str = "data") -> list[Packet]:
        return [packet for _, to, packet in self.log if host in (None, to) and packet.kind == kind]
