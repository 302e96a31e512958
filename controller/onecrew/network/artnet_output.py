"""ArtnetOutput: universes of a show as Art-Net 4, unicast, beside or instead of sACN.

The pace is that of sACN: 44 Hz at most, three repeats, then a packet every 0.9 s; Art-Net asks for one at
least every 4 s. Art-Net has no packet that ends a stream: nodes hold or fade by their own setting.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from onecrew.network import artnet_packets
from onecrew.network.delivery import AddressSockets, Delivery, OpenSocket, open_udp
from onecrew.network.output_streams import UniverseStream, UniverseStreams, rows_of, unicast_routes
from onecrew.network.pacing import SyncPacer
from onecrew.network.stream import Stream
from onecrew.show.destination import ARTNET_PORT, port_address
from onecrew.show.show import Artnet
from onecrew.show.snapshot import OutputState


class ArtnetStream(Stream):
    """One universe as ArtDmx packets, numbered 1 to 255; 0 would switch the numbering off."""

    SEQUENCE_AT = artnet_packets.SEQUENCE_AT
    SLOTS_AT = artnet_packets.SLOTS_AT

    def __init__(self, universe: int, port_address: int) -> None:
        """``port_address`` 0–32767, ``ValueError`` outside."""
        super().__init__(universe, 0)
        self.readdress(port_address)

    def readdress(self, port_address: int) -> None:
        """Moves the stream to another port-address; a new one leaves as a change does."""
        self.take_header(artnet_packets.art_dmx(port_address))

    @staticmethod
    def number_after(sequence: int) -> int:
        return sequence % 255 + 1


class ArtnetOutput:
    """The Art-Net streams of a show and their sockets. Single-threaded; times are monotonic seconds.

    Call ``send`` when the light changed and whenever ``next_due`` has come, with the slots as they are then.
    Trouble on the network never raises: see ``states``.
    """

    def __init__(
        self, settings: Artnet | None, universes: Iterable[int], *, open_socket: OpenSocket = open_udp
    ) -> None:
        """``universes`` in the order of the rows of slots; those not in the settings are not sent."""
        self._sockets = AddressSockets(open_socket)
        self._running: UniverseStreams[ArtnetStream] = UniverseStreams("artnet")
        self._rows: list[int] = []
        self._sync_beat = SyncPacer()
        self._sync_deliveries: list[Delivery] = []
        self.reconfigure(settings, universes)

    def reconfigure(self, settings: Artnet | None, universes: Iterable[int]) -> None:
        """Takes new settings or universes; streams that stay go on without a gap."""
        listed = settings.universes if settings is not None else {}
        before = {running.stream.universe: running for running in self._running.all}
        self._rows, self._running.all = [], []
        for row, universe in enumerate(universes):
            wanted = listed.get(str(universe))
            if wanted is None:
                continue
            port = port_address(universe, wanted.port_address)
            earlier = before.get(universe)
            if earlier is None:
                stream = ArtnetStream(universe, port)
            else:
                stream = earlier.stream
                stream.readdress(port)
            self._rows.append(row)
            routes = unicast_routes(wanted.to, ARTNET_PORT)
            self._running.all.append(UniverseStream(stream, routes, self._sockets, earlier))
        addresses = dict.fromkeys(self._running.addresses())
        self._running.together = settings is not None and settings.sync
        self._sync_deliveries = (
            [Delivery(self._sockets.to(address), address.host) for address in addresses]
            if self._running.together
            else []
        )
        self._sockets.keep(addresses)

    def send(self, slots: NDArray[np.uint8] | None, now: float) -> None:
        """Sends what is due at ``now``: changes that may leave, repeats, keep-alives, what failed before.

        ``slots`` has a row for each universe of the show, None if nothing changed.
        """
        left = self._running.send(None if slots is None else rows_of(slots, self._rows), now)
        if left and self._sync_deliveries:
            self._sync_beat.data_left(now)
        if self._sync_beat.take(now):
            for delivery in self._sync_deliveries:
                delivery.send(artnet_packets.art_sync(), now)

    def expect(self, moment: float) -> None:
        """The next slots come at ``moment``: repeats before it would only hold them up."""
        self._running.expect(moment)

    def may_send_at(self) -> float:
        """The earliest moment at which a change of all universes may leave."""
        return self._running.may_send_at()

    def next_due(self, now: float) -> float:
        """When to call ``send`` next, never before ``now``; infinity if there is nothing to send."""
        due = min(self._running.next_due(now), self._sync_beat.next_due())
        return max(due, now)

    def states(self) -> tuple[OutputState, ...]:
        """How each destination of each universe stands."""
        return self._running.states()

    def close(self) -> None:
        """Stops sending and closes the sockets."""
        self._running.all, self._rows, self._sync_deliveries = [], [], []
        self._sockets.keep(())
