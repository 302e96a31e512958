"""Arbiter: which levels a receiver shows when several sources send. Pure; times are monotonic seconds.

By universe the highest priority wins; sources of equal priority are merged, the highest level of each slot
taken (E1.31-2018 §6.2.3.1 leaves the rule to the maker). Packets with Preview_Data never count (§6.2.6).
A source is gone when it terminates or stays silent for 2.5 s (§6.7.1).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from uuid import UUID

from onecrew.network.pacing import NEVER_S
from onecrew.network.sacn_parse import DataPacket, DiscoveryPacket, Malformed, SyncPacket, parse
from onecrew.show.destination import SLOTS

LOSS_S = 2.5
"""Appendix A: E131_NETWORK_DATA_LOSS_TIMEOUT."""
DISCOVERY_LOSS_S = 20.0
"""§12: two intervals of universe discovery, 10 s each."""
SOURCES_MAX = 32
"""Sources kept for one universe, and synchronisations and announcements kept in all."""
UNIVERSES_MAX = 1024
RATE_PACKETS = 64


@dataclass(frozen=True, slots=True)
class SourceSeen:
    """One source on one universe, as it stands now."""

    universe: int
    name: str
    cid: UUID
    host: str
    """Address that it sends from."""
    priority: int
    rate: float
    """Packets a second, over the last packets or the last 2.5 s, whichever is shorter."""
    last_seen_s: float
    """Seconds since its last packet."""
    preview: bool
    synchronised: bool
    wins: bool
    """Its levels are among those that count."""


@dataclass(frozen=True, slots=True)
class Announced:
    """What one source says by universe discovery that it sends."""

    name: str
    cid: UUID
    host: str
    universes: tuple[int, ...]


@dataclass(slots=True, eq=False)
class Source:
    """What is kept of one source on one universe."""

    host: str
    packet: DataPacket
    sequence: int
    seen_s: float
    live_s: float = -NEVER_S
    """When the last packet came that may count: START code 0, no preview."""
    shown: DataPacket | None = None
    """The packet whose levels count."""
    held: DataPacket | None = None
    """Synchronised data waiting for its sync packet."""
    times: deque[float] = field(default_factory=lambda: deque(maxlen=RATE_PACKETS))

    def rate(self, now: float) -> float:
        recent = [at for at in self.times if now - at <= LOSS_S]
        return (
            (len(recent) - 1) / (recent[-1] - recent[0])
            if len(recent) > 1 and recent[-1] > recent[0]
            else 0.0
        )


@dataclass(slots=True)
class Synchronisation:
    """The sync packets of one source on one address."""

    sequence: int
    seen_s: float


@dataclass(slots=True)
class Announcement:
    """The pages of one source's discovery packets, as far as they came."""

    name: str
    host: str
    seen_s: float
    pages: dict[int, tuple[int, ...]]


class Arbiter:
    """Takes datagrams, tells levels. Bounded: floods are counted, not kept."""

    def __init__(self, universes: Collection[int] | None = None) -> None:
        """``universes`` to listen to; None for all, the first 1024 that come."""
        self._only = None if universes is None else frozenset(universes)
        self._universes: dict[int, dict[bytes, Source]] = {}
        self._syncs: dict[tuple[bytes, int], Synchronisation] = {}
        self._announcements: dict[bytes, Announcement] = {}
        self.received = 0
        self.bad = 0
        """Datagrams that are no E1.31 packets."""
        self.out_of_order = 0
        self.crowded_out = 0
        """Packets of sources or universes beyond the bounds."""

    def take(self, datagram: bytes, now: float, host: str = "") -> None:
        """Takes one datagram as it came; nothing it may hold raises."""
        self.received += 1
        try:
            packet = parse(datagram)
        except Malformed:
            self.bad += 1
            return
        if isinstance(packet, DataPacket):
            self._take_data(packet, now, host)
        elif isinstance(packet, SyncPacket):
            self._take_sync(packet, now)
        else:
            self._take_discovery(packet, now, host)

    def levels(self, universe: int, now: float) -> bytes | None:
        """The 512 levels of a universe; None if no source counts."""
        winners = self._winners(universe, now)
        if not winners:
            return None
        first, *others = (packet.slots.ljust(SLOTS, b"\0") for _, packet in winners)
        return bytes(map(max, first, *others)) if others else first

    def universes(self, now: float) -> tuple[int, ...]:
        """The universes on which a source is heard, in order."""
        return tuple(sorted(universe for universe in self._universes if any(self._alive(universe, now))))

    def sources(self, now: float) -> list[SourceSeen]:
        """Every source that is heard, by universe and then by falling priority."""
        seen = []
        for universe in self.universes(now):
            winners = [source for source, _ in self._winners(universe, now)]
            alive = sorted(self._alive(universe, now), key=lambda source: -source.packet.priority)
            seen += [_seen(source, now, any(source is winner for winner in winners)) for source in alive]
        return seen

    def announced(self, now: float) -> list[Announced]:
        """What sources say that they send, whether it is heard here or not."""
        return [
            Announced(
                said.name,
                UUID(bytes=cid),
                said.host,
                tuple(universe for _, page in sorted(said.pages.items()) for universe in page),
            )
            for cid, said in self._announcements.items()
            if now - said.seen_s <= DISCOVERY_LOSS_S
        ]

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _take_data(self, packet: DataPacket, now: float, host: str) -> None:
        if self._only is not None and packet.universe not in self._only:
            return
        sources = self._universes.get(packet.universe, {})
        source = sources.get(packet.cid)
        if source is not None and now - source.seen_s > LOSS_S:
            del sources[packet.cid]
            source = None
        if source is not None and out_of_order(source.sequence, packet.sequence):
            self.out_of_order += 1
            return
        if packet.terminated:
            sources.pop(packet.cid, None)
            return
        if source is None:
            source = self._admit(packet, now, host)
            if source is None:
                self.crowded_out += 1
                return
        source.host, source.packet, source.sequence, source.seen_s = host, packet, packet.sequence, now
        source.times.append(now)
        if packet.start_code == 0 and not packet.preview:
            source.live_s = now
            self._show_or_hold(source, packet, now)

    def _show_or_hold(self, source: Source, packet: DataPacket, now: float) -> None:
        """§6.2.4.1, §11.1: data is held from the first sync packet on, until sync is lost for 2.5 s."""
        sync = self._syncs.get((packet.cid, packet.sync_address)) if packet.sync_address else None
        lost = sync is not None and now - sync.seen_s > LOSS_S
        if sync is None or (lost and packet.force_sync):
            source.shown, source.held = packet, None
        else:
            source.held = packet

    def _take_sync(self, packet: SyncPacket, now: float) -> None:
        key = packet.cid, packet.sync_address
        sync = self._syncs.get(key)
        if sync is not None and now - sync.seen_s <= LOSS_S and out_of_order(sync.sequence, packet.sequence):
            self.out_of_order += 1
            return
        if sync is None and not self._room_for_sync(now):
            self.crowded_out += 1
            return
        self._syncs[key] = Synchronisation(packet.sequence, now)
        for sources in self._universes.values():
            source = sources.get(packet.cid)
            if source is not None and source.held is not None:
                if source.held.sync_address != packet.sync_address:
                    continue
                source.shown, source.held = source.held, None

    def _take_discovery(self, packet: DiscoveryPacket, now: float, host: str) -> None:
        said = self._announcements.get(packet.cid)
        if said is None:
            if len(self._announcements) >= SOURCES_MAX:
                self._announcements = {
                    cid: kept
                    for cid, kept in self._announcements.items()
                    if now - kept.seen_s <= DISCOVERY_LOSS_S
                }
            if len(self._announcements) >= SOURCES_MAX:
                self.crowded_out += 1
                return
            said = self._announcements[packet.cid] = Announcement(packet.source_name, host, now, {})
        said.name, said.host, said.seen_s = packet.source_name, host, now
        said.pages = {page: kept for page, kept in said.pages.items() if page <= packet.last_page}
        said.pages[packet.page] = packet.universes

    def _admit(self, packet: DataPacket, now: float, host: str) -> Source | None:
        """A place for a new source, made free by those that fell silent; None if there is none."""
        if packet.universe not in self._universes and len(self._universes) >= UNIVERSES_MAX:
            self._universes = {
                number: kept for number, kept in self._universes.items() if any(self._alive(number, now))
            }
            if len(self._universes) >= UNIVERSES_MAX:
                return None
        sources = self._universes.setdefault(packet.universe, {})
        if len(sources) >= SOURCES_MAX:
            for cid in [cid for cid, source in sources.items() if now - source.seen_s > LOSS_S]:
                del sources[cid]
            if len(sources) >= SOURCES_MAX:
                return None
        lost = [
            key for key, sync in self._syncs.items() if key[0] == packet.cid and now - sync.seen_s > LOSS_S
        ]
        for key in lost:  # a source that comes anew is not held by the sync packets of its earlier life
            del self._syncs[key]
        source = sources[packet.cid] = Source(host, packet, packet.sequence, now)
        return source

    def _room_for_sync(self, now: float) -> bool:
        if len(self._syncs) >= SOURCES_MAX:
            self._syncs = {key: sync for key, sync in self._syncs.items() if now - sync.seen_s <= LOSS_S}
        return len(self._syncs) < SOURCES_MAX

    def _alive(self, universe: int, now: float) -> Iterator[Source]:
        sources = self._universes.get(universe, {})
        return (source for source in sources.values() if now - source.seen_s <= LOSS_S)

    def _winners(self, universe: int, now: float) -> list[tuple[Source, DataPacket]]:
        """The sources of the highest priority, with the packets whose levels count."""
        counting = [
            (source, source.shown)
            for source in self._alive(universe, now)
            if source.shown is not None and now - source.live_s <= LOSS_S
        ]
        highest = max((packet.priority for _, packet in counting), default=-1)
        return [(source, packet) for source, packet in counting if packet.priority == highest]


def out_of_order(newest: int, number: int) -> bool:
    """§6.7.2: a packet is discarded if its number is 0 to 19 behind the newest, by signed 8-bit difference.

    >>> out_of_order(100, 100), out_of_order(100, 81), out_of_order(100, 80), out_of_order(255, 0)
    (True, True, False, False)
    """
    difference = (number - newest + 128) % 256 - 128
    return -20 < difference <= 0


def _seen(source: Source, now: float, wins: bool) -> SourceSeen:
    packet = source.packet
    return SourceSeen(
        universe=packet.universe,
        name=packet.source_name,
        cid=UUID(bytes=packet.cid),
        host=source.host,
        priority=packet.priority,
        rate=source.rate(now),
        last_seen_s=now - source.seen_s,
        preview=packet.preview,
        synchronised=packet.sync_address != 0,
        wins=wins,
    )
