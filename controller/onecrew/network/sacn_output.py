"""SacnOutput: every universe of a show on the network by E1.31-2018, and how each destination stands.

Data goes by unicast to each address that a universe names, else by multicast. Synchronisation packets go
where the data goes. Universe discovery goes by multicast on the interfaces that multicast uses or that a
universe names; a show that sends by unicast alone sends nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from onecrew.network.delivery import Address, AddressSockets, Delivery, OpenSocket, open_udp
from onecrew.network.output_streams import Routes, UniverseStream, UniverseStreams, unicast_routes
from onecrew.network.pacing import PLAIN, STEADY, WIFI, Repeat, SyncPacer
from onecrew.network.sacn_discovery import Discovery
from onecrew.network.sacn_packets import (
    DISCOVERY_UNIVERSE,
    SYNC_SEQUENCE_AT,
    fit_source_name,
    multicast_address,
    sync_packet,
)
from onecrew.network.sacn_stream import SacnStream, resumed
from onecrew.show.destination import SACN_PORT, parse_interface
from onecrew.show.show import Sacn, SacnUniverse
from onecrew.show.snapshot import OutputState

SYNC_KEY = 0
"""Where ``sequences`` keeps the number of the synchronisation packets; no universe is numbered 0."""


class SacnOutput:
    """The streams of one source and their sockets. Single-threaded; times are monotonic seconds.

    Call ``send`` when the light changed and whenever ``next_due`` has come, with the slots as they are then.
    Trouble on the network never raises: see ``states``.
    """

    def __init__(
        self,
        settings: Sacn,
        universes: Iterable[int],
        cid: UUID,
        source_name: str,
        sequences: Mapping[int, int],
        now: float,
        *,
        open_socket: OpenSocket = open_udp,
        discovery: bool | None = None,
        sync_delay_s: float = 0.0,
    ) -> None:
        """``universes`` in the order of the rows of slots; ``sequences`` as an earlier run returned them.

        ``source_name`` is used where the settings name none. ``discovery``: None sends it where multicast is
        in use or an interface is named, True always, False never. ``sync_delay_s`` is left between the data
        and its synchronisation packet (§11.2.2).
        """
        self._cid = cid
        self._past = dict(sequences)
        self._sockets = AddressSockets(open_socket)
        self._running: UniverseStreams[SacnStream] = UniverseStreams("sacn")
        self._ending: list[UniverseStream[SacnStream]] = []
        self._want_discovery = discovery
        self._discovery: Discovery | None = None
        self._discovery_addresses: list[Address] = []
        self._sync_beat = SyncPacer(sync_delay_s)
        self._sync: bytearray | None = None
        self._sync_sequence = (resumed(self._past.get(SYNC_KEY)) - 1) % 256
        self._sync_deliveries: list[Delivery] = []
        self.reconfigure(settings, universes, source_name, now)

    # ── what it does ────────────────────────────────────────────────────────────────────────────

    def reconfigure(self, settings: Sacn, universes: Iterable[int], source_name: str, now: float) -> None:
        """Takes new settings or universes; streams that stay go on without a gap, the others are terminated.

        A destination that a universe no longer names gets no Stream_Terminated: the stream goes on, and the
        same lamp may be reached by another of its ways.
        """
        name = fit_source_name(settings.source_name or source_name)
        listed = list(dict.fromkeys(universes))
        sync_address = (settings.sync_universe or 0) if len(listed) > 1 else 0
        before = {running.stream.universe: running for running in self._running.all}
        self._running.all = [
            self._run(universe, before.pop(universe, None), settings, name, sync_address)
            for universe in listed
        ]
        self._terminate(before.values())
        self._plan_sync(sync_address)
        self._plan_discovery(settings, name, now)
        self._keep_lines()

    def send(self, slots: NDArray[np.uint8] | None, now: float) -> None:
        """Sends what is due at ``now``: changes that may leave, repeats, keep-alives, what failed before.

        ``slots`` has shape (universes, 512), None if nothing changed; raises ``ValueError`` for another.
        """
        if self._running.send(slots, now) and self._sync is not None:
            self._sync_beat.data_left(now)
        if self._sync is not None and self._sync_beat.take(now):
            self._send_sync(self._sync, now)
        if self._ending:
            self._send_last(now)
        if self._discovery is not None:
            self._send_discovery(self._discovery, now)

    def expect(self, moment: float) -> None:
        """The next slots come at ``moment``: repeats before it would only hold them up."""
        self._running.expect(moment)

    def may_send_at(self) -> float:
        """The earliest moment at which a change of all universes may leave."""
        return self._running.may_send_at()

    def next_due(self, now: float) -> float:
        """When to call ``send`` next, never before ``now``; infinity if there is nothing to send."""
        due = self._running.next_due(now)
        if self._sync is not None:
            due = min(due, self._sync_beat.next_due())
        if self._discovery is not None:
            due = min(due, self._discovery.next_due(now))
        for running in self._ending:
            due = min(due, running.stream.next_due(now))
        return max(due, now)

    def end(self, now: float) -> None:
        """Ends every stream: the first of three terminated packets leaves as soon as it may.

        Go on calling ``send(None, …)`` when ``next_due`` comes until ``ended``, three frames at most; then
        ``close``.
        """
        self._terminate(self._running.all)
        self._running.all = []
        self._discovery = None
        self.send(None, now)

    @property
    def ended(self) -> bool:
        """Whether no stream runs and every one that ended has sent its last packet."""
        return not self._running.all and not self._ending

    def close(self) -> None:
        """Closes the sockets."""
        self._sockets.keep(())

    # ── what it says of itself ──────────────────────────────────────────────────────────────────

    def states(self) -> tuple[OutputState, ...]:
        """How each destination of each universe stands."""
        return self._running.states()

    def sequences(self) -> dict[int, int]:
        """The last sequence number of each universe and (key 0) of the synchronisation packets."""
        running = {running.stream.universe: running.stream.sequence for running in self._running.all}
        return {**self._past, **running, SYNC_KEY: self._sync_sequence}

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _run(
        self,
        universe: int,
        before: UniverseStream[SacnStream] | None,
        settings: Sacn,
        name: str,
        sync_address: int,
    ) -> UniverseStream[SacnStream]:
        if before is not None:
            stream = before.stream
            stream.retitle(
                name, priority=settings.priority, sync_address=sync_address, repeat=repeat_of(settings)
            )
        else:
            self._ending = [running for running in self._ending if running.stream.universe != universe]
            stream = SacnStream(
                universe,
                self._cid,
                name,
                priority=settings.priority,
                sync_address=sync_address,
                repeat=repeat_of(settings),
                first_sequence=resumed(self._past.pop(universe, None)),
            )
        return UniverseStream(
            stream, _routes(universe, _settings_of(universe, settings)), self._sockets, before
        )

    def _terminate(self, leaving: Iterable[UniverseStream[SacnStream]]) -> None:
        for running in leaving:
            self._past[running.stream.universe] = running.stream.sequence
            running.stream.terminate()
            self._ending.append(running)

    def _plan_sync(self, sync_address: int) -> None:
        self._running.together = sync_address != 0
        if not sync_address:
            self._sync, self._sync_deliveries = None, []
            return
        self._sync = sync_packet(self._cid, sync_address)
        group = multicast_address(sync_address)
        addresses = dict.fromkeys(
            Address(group, SACN_PORT, True, address.interface) if address.multicast else address
            for address in self._running.addresses()
        )
        self._sync_deliveries = [Delivery(self._sockets.to(address), address.host) for address in addresses]

    def _plan_discovery(self, settings: Sacn, name: str, now: float) -> None:
        universes = [running.stream.universe for running in self._running.all]
        interfaces = self._discovery_interfaces(settings, universes)
        if not interfaces:
            self._discovery, self._discovery_addresses = None, []
            return
        group = multicast_address(DISCOVERY_UNIVERSE)
        self._discovery_addresses = [Address(group, SACN_PORT, True, interface) for interface in interfaces]
        if self._discovery is None:
            self._discovery = Discovery(self._cid, name, universes, now)
        else:
            self._discovery.change(name, universes)

    def _discovery_interfaces(self, settings: Sacn, universes: Iterable[int]) -> list[str | None]:
        if self._want_discovery is False:
            return []
        used = [address.interface for address in self._running.addresses() if address.multicast]
        named = [_settings_of(universe, settings).interface for universe in universes]
        used += [interface for interface in named if interface is not None and _refusal(interface) is None]
        return list(dict.fromkeys(used)) or ([None] if self._want_discovery else [])

    def _keep_lines(self) -> None:
        ending = (address for running in self._ending for address in running.addresses())
        syncing = (delivery.address for delivery in self._sync_deliveries)
        self._sockets.keep([*self._running.addresses(), *ending, *syncing, *self._discovery_addresses])

    def _send_sync(self, packet: bytearray, now: float) -> None:
        self._sync_sequence = packet[SYNC_SEQUENCE_AT] = (self._sync_sequence + 1) & 0xFF
        for delivery in self._sync_deliveries:
            delivery.send(packet, now)

    def _send_last(self, now: float) -> None:
        for running in self._ending:
            running.emit(now)
            self._past[running.stream.universe] = running.stream.sequence
        if any(running.stream.ended for running in self._ending):
            self._ending = [running for running in self._ending if not running.stream.ended]
            self._keep_lines()

    def _send_discovery(self, discovery: Discovery, now: float) -> None:
        for packet in discovery.due(now):
            for address in self._discovery_addresses:
                with suppress(OSError):  # the data on the same interface shows its state
                    self._sockets.to(address).send(packet)


def _settings_of(universe: int, settings: Sacn) -> SacnUniverse:
    """A universe that is not listed goes by multicast."""
    return settings.universes.get(str(universe), SacnUniverse())


def _routes(universe: int, settings: SacnUniverse) -> Routes:
    if settings.to:
        return unicast_routes(settings.to, SACN_PORT)
    group = multicast_address(universe)
    if settings.interface is None:
        return Routes({Address(group, SACN_PORT, True): group})
    to = f"{group} by {settings.interface}"
    refusal = _refusal(settings.interface)
    if refusal is not None:
        return Routes(unusable=((to, refusal),))
    return Routes({Address(group, SACN_PORT, True, settings.interface): to})


def _refusal(interface: str) -> str | None:
    """Why an interface cannot be used, None if it can."""
    try:
        parse_interface(interface)
    except ValueError as error:
        return str(error)
    return None


def repeat_of(settings: Sacn) -> Repeat:
    """How the settings have unchanged slots repeated."""
    return STEADY if settings.steady else WIFI if settings.wifi else PLAIN
