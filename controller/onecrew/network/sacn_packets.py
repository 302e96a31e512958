"""sACN packets: E1.31-2018 octets, laid out once by the sacn package and patched in place from then on.

The package's ``DataPacket``, ``SyncPacket`` and ``UniverseDiscoveryPacket`` lay their octets out as Tables
4-1 to 4-3 say. Three things around them are done here instead: names are cut to fit rather than refused;
universe 0 cannot slip into a discovery packet, and a source without universes still has one (empty) page;
the caller's list of universes is not sorted under its hands.
"""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sacn.messages.data_packet import DataPacket, calculate_multicast_addr
from sacn.messages.sync_packet import SyncPacket
from sacn.messages.universe_discovery import UniverseDiscoveryPacket

from onecrew.show.destination import UNIVERSE_MAX

DISCOVERY_UNIVERSE = 64214
"""§6.2.7, Appendix A (E131_DISCOVERY_UNIVERSE): 239.255.250.214."""
NAME_OCTETS = 63
"""§6.2.2: 64 octets with the null that ends the name."""

SEQUENCE_AT = 111
OPTIONS_AT = 112
SLOTS_AT = 126
SYNC_SEQUENCE_AT = 44
TERMINATED = 0x40
"""§6.2.6 Stream_Terminated, bit 6 of the options."""


def fit_source_name(name: str) -> str:
    """Cuts a name to 63 octets of UTF-8 at a character's end; control characters and nulls become spaces.

    >>> fit_source_name("é" * 40) == "é" * 31
    True
    """
    printable = "".join(char if char.isprintable() else " " for char in name)
    return printable.encode()[:NAME_OCTETS].decode("utf-8", "ignore").strip()


def multicast_address(universe: int) -> str:
    """The IPv4 group of a universe (§9.3.1): 1–63999, or 64214 for discovery.

    Raises ``ValueError`` for any other, so that nothing can leave for the reserved 239.255.255.x.
    """
    if not 1 <= universe <= UNIVERSE_MAX and universe != DISCOVERY_UNIVERSE:
        raise ValueError(
            f"universe {universe} has no multicast address; universes run from 1 to {UNIVERSE_MAX}"
        )
    return str(calculate_multicast_addr(universe))


def data_header(
    cid: UUID,
    source_name: str,
    universe: int,
    *,
    priority: int = 100,
    sync_address: int = 0,
    force_sync: bool = False,
) -> bytearray:
    """A full data packet, 638 octets: sequence 0, NULL START code, all slots 0.

    Raises ``ValueError`` for a priority outside 0–200 or a universe or synchronisation address outside
    1–63999 (address 0: not synchronised).
    """
    return bytearray(
        DataPacket(
            cid=tuple(cid.bytes),
            sourceName=fit_source_name(source_name),
            universe=universe,
            priority=priority,
            sync_universe=sync_address,
            forceSync=force_sync,
        ).getBytes()
    )


def terminated(packet: bytearray) -> None:
    """Marks a data packet, in place, as one of the last of its stream (§6.2.6 Stream_Terminated)."""
    packet[OPTIONS_AT] |= TERMINATED


def sync_packet(cid: UUID, sync_address: int) -> bytearray:
    """A synchronisation packet, 49 octets, sequence 0; raises ``ValueError`` outside 1–63999."""
    return bytearray(SyncPacket(cid=tuple(cid.bytes), syncAddr=sync_address).getBytes())


def discovery_packets(cid: UUID, source_name: str, universes: Iterable[int]) -> tuple[bytes, ...]:
    """The universe discovery packets of a source: ascending universes, 512 a page (§8).

    Raises ``ValueError`` for a universe outside 1–63999.
    """
    listed = sorted(set(universes))
    if listed and not 1 <= listed[0] <= listed[-1] <= UNIVERSE_MAX:
        raise ValueError(f"universes run from 1 to {UNIVERSE_MAX}, not {listed[0]} to {listed[-1]}")
    octets, name = tuple(cid.bytes), fit_source_name(source_name)
    pages = UniverseDiscoveryPacket.make_multiple_uni_disc_packets(octets, name, listed)
    pages = pages or [UniverseDiscoveryPacket(octets, name, ())]
    return tuple(bytes(page.getBytes()) for page in pages)
