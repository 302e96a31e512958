"""Reading sACN: one datagram to one packet, or the reason why it is none. Pure.

The layout is checked here rather than by the sacn package, whose readers look at the vectors alone: they take
packets without the ACN identifier or with lengths that do not fit, join the name across its null, and raise
UnicodeDecodeError for a name that is no UTF-8. Its constants are used.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from sacn.messages.root_layer import (
    VECTOR_DMP_SET_PROPERTY,
    VECTOR_E131_DATA_PACKET,
    VECTOR_E131_EXTENDED_DISCOVERY,
    VECTOR_E131_EXTENDED_SYNCHRONIZATION,
    VECTOR_ROOT_E131_DATA,
    VECTOR_ROOT_E131_EXTENDED,
    VECTOR_UNIVERSE_DISCOVERY_UNIVERSE_LIST,
)

from onecrew.network.sacn_packets import NAME_OCTETS
from onecrew.show.destination import PRIORITY_MAX, UNIVERSE_MAX

PREAMBLE = bytes.fromhex("00100000") + b"ASC-E1.17\0\0\0"
"""§5.1–5.3: preamble size, post-amble size, ACN packet identifier."""
DATA = bytes(VECTOR_ROOT_E131_DATA), bytes(VECTOR_E131_DATA_PACKET)
SYNC = bytes(VECTOR_ROOT_E131_EXTENDED), bytes(VECTOR_E131_EXTENDED_SYNCHRONIZATION)
DISCOVERY = bytes(VECTOR_ROOT_E131_EXTENDED), bytes(VECTOR_E131_EXTENDED_DISCOVERY)
DMP_FIXED = bytes((VECTOR_DMP_SET_PROPERTY, 0xA1, 0, 0, 0, 1))
"""§7.2–7.5: vector, address and data type, first property address, address increment."""


class Malformed(ValueError):
    """A datagram that is no E1.31 packet; the text says in what."""


@dataclass(frozen=True, slots=True)
class DataPacket:
    """Slots of one universe."""

    cid: bytes
    source_name: str
    universe: int
    priority: int
    sync_address: int
    """0: not synchronised."""
    sequence: int
    preview: bool
    terminated: bool
    force_sync: bool
    start_code: int
    slots: bytes
    """0 to 512 octets."""


@dataclass(frozen=True, slots=True)
class SyncPacket:
    """The word to show what was held."""

    cid: bytes
    sync_address: int
    sequence: int


@dataclass(frozen=True, slots=True)
class DiscoveryPacket:
    """One page of the universes that a source sends."""

    cid: bytes
    source_name: str
    page: int
    last_page: int
    universes: tuple[int, ...]


def parse(datagram: bytes) -> DataPacket | SyncPacket | DiscoveryPacket:
    """Reads one datagram; raises ``Malformed`` where its layout is not that of E1.31-2018, clauses 5 to 8.

    Options and reserved octets that the standard says to ignore are ignored, and so is padding after the
    packet's own length.
    """
    if len(datagram) < 49 or datagram[:16] != PREAMBLE:
        raise Malformed("not an ACN packet")
    end = 16 + _length(datagram, 16)
    if not 49 <= end <= len(datagram):
        raise Malformed("cut short")
    if 38 + _length(datagram, 38) != end:
        raise Malformed("the lengths of its layers do not agree")
    vectors = datagram[18:22], datagram[40:44]
    if vectors == DATA:
        return _data(datagram, end)
    if vectors == SYNC:
        return SyncPacket(datagram[22:38], _universe(datagram, 45), datagram[44])
    if vectors == DISCOVERY:
        return _discovery(datagram, end)
    raise Malformed("a kind of packet that E1.31 does not know")


def _data(datagram: bytes, end: int) -> DataPacket:
    if end < 126 or datagram[117:123] != DMP_FIXED or 115 + _length(datagram, 115) != end:
        raise Malformed("its property layer is not that of levels")
    count = int.from_bytes(datagram[123:125], "big")
    if not 1 <= count <= 513 or 125 + count != end:
        raise Malformed("its count of slots does not fit its length")
    priority, sync_address, sequence, options = struct.unpack_from(">BHBB", datagram, 108)
    if priority > PRIORITY_MAX:
        raise Malformed(f"priority {priority} is above {PRIORITY_MAX}")
    return DataPacket(
        cid=datagram[22:38],
        source_name=_name(datagram),
        universe=_universe(datagram, 113),
        priority=priority,
        sync_address=sync_address,
        sequence=sequence,
        preview=bool(options & 0x80),
        terminated=bool(options & 0x40),
        force_sync=bool(options & 0x20),
        start_code=datagram[125],
        slots=datagram[126:end],
    )


def _discovery(datagram: bytes, end: int) -> DiscoveryPacket:
    if end < 120 or 112 + _length(datagram, 112) != end or (end - 120) % 2:
        raise Malformed("its list of universes does not fit its length")
    if datagram[114:118] != bytes(VECTOR_UNIVERSE_DISCOVERY_UNIVERSE_LIST):
        raise Malformed("its list of universes is of an unknown kind")
    universes = struct.unpack_from(f">{(end - 120) // 2}H", datagram, 120)
    return DiscoveryPacket(datagram[22:38], _name(datagram), datagram[118], datagram[119], universes)


def _length(datagram: bytes, at: int) -> int:
    """Flags and length: the low twelve bits of a field that starts with 0x7."""
    field = (datagram[at] << 8) | datagram[at + 1]
    if field >> 12 != 0x7:
        raise Malformed("its flags are not 0x7")
    return field & 0xFFF


def _universe(datagram: bytes, at: int) -> int:
    universe = (datagram[at] << 8) | datagram[at + 1]
    if not 1 <= universe <= UNIVERSE_MAX:
        raise Malformed(f"universe {universe} is none")
    return universe


def _name(datagram: bytes) -> str:
    """Up to the null; what is no UTF-8, or cannot be printed, is replaced, never a fault."""
    name = datagram[44 : 44 + NAME_OCTETS].split(b"\0", 1)[0].decode("utf-8", "replace")
    return "".join(char if char.isprintable() else "�" for char in name)
