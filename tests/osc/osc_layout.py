"""OSC packets taken apart from the specification's tables alone, sharing nothing with what is tested.

OSC 1.0 (M. Wright, 26 March 2002): "OSC Packets", "OSC Messages", "OSC Bundles", "Atomic Data Types".
"""

from __future__ import annotations

import struct
from typing import Any

FIXED = {"i": ">i", "f": ">f", "h": ">q", "d": ">d"}
FLAGS = {"T": True, "F": False, "N": None}
Heard = list[tuple[str, list[Any]]]


def time_tag(unix_s: float) -> int:
    """The time tag of a Unix time: seconds since 1900 in units of 2⁻³² (RFC 5905, era 0)."""
    return round((unix_s + 2208988800) * 2**32)


def messages_in(packet: bytes) -> Heard | None:
    """Every message of the packet, in order; None unless the packet follows the specification to the byte."""
    try:
        return _packet(packet)
    except (IndexError, ValueError, struct.error):
        return None


def _packet(packet: bytes) -> Heard:
    if len(packet) % 4 or not packet:
        raise ValueError
    if packet[:8] == b"#bundle\0":
        struct.unpack(">Q", packet[8:16])
        rest, heard = packet[16:], []
        while rest:
            (size,) = struct.unpack(">i", rest[:4])
            if size < 1 or size > len(rest) - 4:
                raise ValueError
            heard += _packet(rest[4 : 4 + size])
            rest = rest[4 + size :]
        return heard
    address, rest = _string(packet)
    if not address.startswith("/"):
        raise ValueError
    if not rest:
        return [(address, [])]
    tags, rest = _string(rest)
    if not tags.startswith(","):
        raise ValueError
    values: list[Any] = []
    for tag in tags[1:]:
        if tag in FLAGS:
            values.append(FLAGS[tag])
        elif tag == "s":
            text, rest = _string(rest)
            values.append(text)
        elif tag in FIXED:
            size = struct.calcsize(FIXED[tag])
            (value,) = struct.unpack(FIXED[tag], rest[:size])
            values.append(value)
            rest = rest[size:]
        else:
            raise ValueError
    if rest:
        raise ValueError
    return [(address, values)]


def _string(data: bytes) -> tuple[str, bytes]:
    end = data.index(0)
    size = (end // 4 + 1) * 4
    if size > len(data) or any(data[end:size]):
        raise ValueError
    return data[:end].decode("utf-8"), data[size:]
