"""Art-Net packets: octets by the published Art-Net 4 specification (from memory). Pure."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from onecrew.show.destination import PORT_ADDRESS_MAX, SLOTS

HEADER = b"Art-Net\0"
OP_POLL = 0x2000
OP_POLL_REPLY = 0x2100
OP_DMX = 0x5000
OP_SYNC = 0x5200
PROTOCOL_VERSION = 14
"""Big-endian, while the OpCode before it is little-endian."""

SEQUENCE_AT = 12
SLOTS_AT = 18
REPLY_OCTETS = 207
"""Shortest ArtPollReply that is read: all up to the MAC address; later versions append to it."""


def _head(opcode: int) -> bytes:
    return HEADER + struct.pack("<H", opcode) + struct.pack(">H", PROTOCOL_VERSION)


def art_dmx(port_address: int, slots: int = SLOTS) -> bytearray:
    """An ArtDmx packet: sequence 0 (off), all slots 0.

    ``port_address`` is 0–32767, ``slots`` an even number from 2 to 512; raises ``ValueError`` outside.
    """
    if not 0 <= port_address <= PORT_ADDRESS_MAX:
        raise ValueError(f"an Art-Net port-address is 0 to {PORT_ADDRESS_MAX}, not {port_address}")
    if not 2 <= slots <= SLOTS or slots % 2:
        raise ValueError(f"an ArtDmx packet has an even number of slots from 2 to {SLOTS}, not {slots}")
    physical = 0
    sub_uni, net = port_address & 0xFF, port_address >> 8
    return bytearray(
        _head(OP_DMX) + bytes((0, physical, sub_uni, net)) + struct.pack(">H", slots) + bytes(slots)
    )


def art_sync() -> bytes:
    """An ArtSync packet: nodes show what they hold."""
    return _head(OP_SYNC) + bytes(2)


def art_poll() -> bytes:
    """An ArtPoll packet: every node answers once; no diagnostics, no unasked answers later."""
    return _head(OP_POLL) + bytes(2)


@dataclass(frozen=True, slots=True)
class Node:
    """What a node says of itself in an ArtPollReply."""

    host: str
    """Address that it answered from."""
    short_name: str
    long_name: str
    report: str
    """Its state in its own words."""
    outputs: tuple[int, ...]
    """Port-addresses that it outputs."""
    inputs: tuple[int, ...]
    """Port-addresses that it sends."""
    mac: str


def parse_poll_reply(datagram: bytes, host: str) -> Node:
    """Reads an ArtPollReply; raises ``ValueError`` for anything else. Text that is no UTF-8 is replaced."""
    if datagram[:8] != HEADER or datagram[8:10] != struct.pack("<H", OP_POLL_REPLY):
        raise ValueError("not an ArtPollReply")
    if len(datagram) < REPLY_OCTETS:
        raise ValueError(f"an ArtPollReply of {len(datagram)} octets is cut short")
    base = ((datagram[18] & 0x7F) << 8) | ((datagram[19] & 0x0F) << 4)
    ports = range(min(datagram[173], 4))
    return Node(
        host=host,
        short_name=_text(datagram[26:44]),
        long_name=_text(datagram[44:108]),
        report=_text(datagram[108:172]),
        outputs=tuple(base | (datagram[190 + port] & 0x0F) for port in ports if datagram[174 + port] & 0x80),
        inputs=tuple(base | (datagram[186 + port] & 0x0F) for port in ports if datagram[174 + port] & 0x40),
        mac=":".join(f"{octet:02x}" for octet in datagram[201:207]),
    )


def port_address_of(datagram: bytes) -> int:
    """The port-address that an ArtDmx packet is for; raises ``ValueError`` for anything else."""
    if datagram[:8] != HEADER or datagram[8:10] != struct.pack("<H", OP_DMX) or len(datagram) <= SLOTS_AT:
        raise ValueError("not an ArtDmx packet")
    return ((datagram[15] & 0x7F) << 8) | datagram[14]


def _text(octets: bytes) -> str:
    text = octets.split(b"\0", 1)[0].decode("utf-8", "replace")
    return "".join(char if char.isprintable() else "�" for char in text)
