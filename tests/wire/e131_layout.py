"""E1.31 packets taken apart by the standard's own tables, knowing nothing of the code that builds them.

Layout: ANSI E1.31-2018 clauses 5 to 8 (data, synchronisation, universe discovery).
``parse`` raises ``Deviation`` at the first octet that is not as the tables say.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

ACN_IDENTIFIER = bytes.fromhex("4153432d45312e3137000000")  # clause 5.3


class Deviation(ValueError):
    """A datagram that is not laid out as the standard says."""


@dataclass(frozen=True)
class Packet:
    """Every field of a packet; what its kind does not have keeps the default."""

    kind: Literal["data", "sync", "discovery"]
    cid: bytes
    source_name: str = ""
    priority: int = -1
    sync_address: int = 0
    sequence: int = -1
    preview: bool = False
    terminated: bool = False
    force_sync: bool = False
    universe: int = 0
    start_code: int = -1
    slots: bytes = b""
    page: int = -1
    last_page: int = -1
    universes: tuple[int, ...] = ()


def parse(datagram: bytes) -> Packet:
    """Takes one datagram apart, whichever of the three kinds it is."""
    _need(len(datagram) >= 49, f"{len(datagram)} octets is shorter than the shortest packet, 49")
    _field(datagram, 0, 2, 0x0010, "preamble size (5.1)")
    _field(datagram, 2, 2, 0x0000, "post-amble size (5.2)")
    _need(datagram[4:16] == ACN_IDENTIFIER, "ACN packet identifier (5.3)")
    _flags_and_length(datagram, 16, "root layer (5.4)")
    root_vector = _number(datagram, 18, 4)
    framing_vector = _number(datagram, 40, 4)
    _flags_and_length(datagram, 38, "framing layer (6.1)")
    if root_vector == 0x00000004:
        _need(framing_vector == 0x00000002, "framing vector of a data packet (6.2.1)")
        return _data(datagram)
    _need(root_vector == 0x00000008, f"root vector {root_vector:#x} (5.5)")
    if framing_vector == 0x00000001:
        return _sync(datagram)
    _need(framing_vector == 0x00000002, f"framing vector {framing_vector:#x} (6.3.1, 6.4.1)")
    return _discovery(datagram)


def _data(datagram: bytes) -> Packet:
    _need(len(datagram) >= 126, "a data packet has at least 126 octets")
    options = datagram[112]
    _need(options & 0x1F == 0, f"options {options:#04x}: bits 4-0 are zero (6.2.6)")
    priority = datagram[108]
    _need(priority <= 200, f"priority {priority} is above 200 (6.2.3)")
    universe = _number(datagram, 113, 2)
    _need(1 <= universe <= 63999, f"universe {universe} (6.2.7)")
    sync_address = _number(datagram, 109, 2)
    _need(sync_address <= 63999, f"synchronisation address {sync_address} (6.2.4)")
    _flags_and_length(datagram, 115, "DMP layer (7.1)")
    _field(datagram, 117, 1, 0x02, "DMP vector (7.2)")
    _field(datagram, 118, 1, 0xA1, "address and data type (7.3)")
    _field(datagram, 119, 2, 0x0000, "first property address (7.4)")
    _field(datagram, 121, 2, 0x0001, "address increment (7.5)")
    count = _number(datagram, 123, 2)
    _need(1 <= count <= 513, f"property value count {count} (7.6)")
    _need(len(datagram) == 125 + count, f"{len(datagram)} octets with {count} property values (7.6)")
    return Packet(
        kind="data",
        cid=datagram[22:38],
        source_name=_source_name(datagram),
        priority=priority,
        sync_address=sync_address,
        sequence=datagram[111],
        preview=bool(options & 0x80),
        terminated=bool(options & 0x40),
        force_sync=bool(options & 0x20),
        universe=universe,
        start_code=datagram[125],
        slots=datagram[126:],
    )


def _sync(datagram: bytes) -> Packet:
    _need(len(datagram) == 49, f"a synchronisation packet has 49 octets, not {len(datagram)}")
    address = _number(datagram, 45, 2)
    _need(1 <= address <= 63999, f"synchronisation address {address} (6.3.3)")
    _field(datagram, 47, 2, 0, "reserved octets (6.3.4)")
    return Packet(kind="sync", cid=datagram[22:38], sequence=datagram[44], sync_address=address)


def _discovery(datagram: bytes) -> Packet:
    _need(len(datagram) >= 120, "a discovery packet has at least 120 octets")
    _field(datagram, 108, 4, 0, "reserved octets (6.4.3)")
    _flags_and_length(datagram, 112, "universe discovery layer (8.1)")
    _field(datagram, 114, 4, 0x00000001, "universe discovery vector (8.2)")
    page, last_page = datagram[118], datagram[119]
    _need(page <= last_page, f"page {page} of {last_page} (8.3, 8.4)")
    tail = datagram[120:]
    _need(len(tail) % 2 == 0 and len(tail) <= 1024, f"{len(tail)} octets of universes (8.5)")
    universes = tuple(_number(tail, at, 2) for at in range(0, len(tail), 2))
    _need(all(a < b for a, b in pairwise(universes)), "universes ascend (8.5)")
    _need(all(1 <= universe <= 63999 for universe in universes), "universes are 1-63999 (6.2.7)")
    return Packet(
        kind="discovery",
        cid=datagram[22:38],
        source_name=_source_name(datagram),
        page=page,
        last_page=last_page,
        universes=universes,
    )


def _need(holds: bool, what: str) -> None:
    if not holds:
        raise Deviation(what)


def _number(datagram: bytes, at: int, size: int) -> int:
    """An unsigned number; every number is in network byte order (clause 4)."""
    return int.from_bytes(datagram[at : at + size], "big")


def _field(datagram: bytes, at: int, size: int, expected: int, what: str) -> None:
    found = _number(datagram, at, size)
    _need(found == expected, f"{what} is {found:#x}, should be {expected:#x}")


def _flags_and_length(datagram: bytes, at: int, what: str) -> None:
    """The top four bits are 0x7; the low twelve count from this field to the end of the datagram."""
    _field(datagram, at, 2, 0x7000 | (len(datagram) - at), f"flags and length of the {what}")


def _source_name(datagram: bytes) -> str:
    """UTF-8, null-terminated, the rest of the 64 octets zero (6.2.2)."""
    name, end, rest = datagram[44:108].partition(b"\0")
    _need(bool(end), "source name has no null (6.2.2)")
    _need(not rest.strip(b"\0"), "source name has text after its null (6.2.2)")
    try:
        return name.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Deviation(f"source name is not UTF-8 (6.2.2): {error}") from error
