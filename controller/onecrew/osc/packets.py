"""OSC packets: a datagram → messages with the moments they are meant for, and back.

OSC 1.0 (M. Wright, 26 March 2002). Bounded before anything is believed: size, depth, number of elements and
of arguments. A message's arguments are parsed by python-osc once its shape is known to be sound, since that
parser takes what is missing at the end for zeros, and zero is a level.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass

from pythonosc.osc_message import OscMessage, ParseError

Argument = int | float | str | bool | None

MAX_BYTES = 16384
MAX_MESSAGES = 64
MAX_DEPTH = 8
MAX_ARGUMENTS = 64
MAX_ADDRESS = 255

BUNDLE = b"#bundle\0"
NTP_TO_UNIX_S = 2208988800
"""Seconds from 1900-01-01 to 1970-01-01 (RFC 5905, figure 4)."""
IMMEDIATELY = 1
"""The time tag 0x0000000000000001 (OSC 1.0, "OSC Bundles")."""
WIDTHS = {"i": 4, "f": 4, "h": 8, "d": 8, "T": 0, "F": 0, "N": 0}
"""Bytes of each type of argument that has a fixed number of them; ``s`` is the one more that is read."""


class Malformed(ValueError):
    """A datagram that is no OSC packet, or more than is read of one; its text says why."""


class NotRead(Malformed):
    """A sound message with arguments of a type that nothing here takes."""


@dataclass(frozen=True, slots=True)
class Message:
    address: str
    arguments: tuple[Argument, ...]


@dataclass(frozen=True, slots=True)
class Timed:
    """Messages that belong together: ``at`` is Unix time in seconds, None for at once."""

    at: float | None
    messages: tuple[Message, ...]


# ── Reading ─────────────────────────────────────────────────────────────────────────────────────────


def read_packet(data: bytes) -> list[Timed]:
    """The messages of a datagram, those for one moment together; raises ``Malformed`` if any is unsound.

    A bundle inside a bundle is never meant for an earlier moment than that around it.
    """
    if len(data) > MAX_BYTES:
        raise Malformed(f"a packet has at most {MAX_BYTES} bytes, this one {len(data)}")
    if not data or len(data) % 4:
        raise Malformed("the size of an OSC packet is a multiple of four bytes")
    moments: dict[float | None, list[Message]] = {}
    _collect(data, None, MAX_DEPTH, MAX_MESSAGES, moments)
    return [Timed(at, tuple(messages)) for at, messages in moments.items()]


def _collect(
    packet: bytes, at: float | None, depth: int, room: int, moments: dict[float | None, list[Message]]
) -> int:
    """Sorts what is in the packet by its moment; returns how many elements may still come."""
    if not packet.startswith(BUNDLE):
        moments.setdefault(at, []).append(read_message(packet))
        return room
    if not depth:
        raise Malformed(f"bundles are read {MAX_DEPTH} deep, these go deeper")
    at = _later(_time_of(packet), at)
    for element in _elements(packet):
        if not room:
            raise Malformed(f"a packet has at most {MAX_MESSAGES} messages and bundles, this one more")
        room = _collect(element, at, depth - 1, room - 1, moments)
    return room


def _elements(bundle: bytes) -> Iterable[bytes]:
    at = len(BUNDLE) + 8
    while at < len(bundle):
        if at + 4 > len(bundle):
            raise Malformed("the last element of the bundle has no size")
        (size,) = struct.unpack_from(">i", bundle, at)
        at += 4
        if size <= 0 or size % 4 or at + size > len(bundle):
            raise Malformed("an element of the bundle does not have the size it says")
        yield bundle[at : at + size]
        at += size


def _time_of(bundle: bytes) -> float | None:
    if len(bundle) < len(BUNDLE) + 8:
        raise Malformed("the bundle has no time tag")
    (tag,) = struct.unpack_from(">Q", bundle, len(BUNDLE))
    return None if tag == IMMEDIATELY else unix_time(tag)


def _later(own: float | None, around: float | None) -> float | None:
    if own is None or around is None:
        return around if own is None else own
    return max(own, around)


def unix_time(tag: int) -> float:
    """The Unix time of a time tag, seconds.

    >>> unix_time(0xE8FE6F8080000000)
    1700000000.5
    """
    return tag / 2**32 - NTP_TO_UNIX_S


def read_message(data: bytes) -> Message:
    """One message; raises ``Malformed`` unless every byte of it is accounted for."""
    if not data.startswith(b"/"):
        raise Malformed("an OSC message begins with the / of its address")
    at = _text_end(data, 0)
    address = data[:at].rstrip(b"\0")
    if len(address) > MAX_ADDRESS:
        raise Malformed(f"an address has at most {MAX_ADDRESS} characters, this one {len(address)}")
    if not all(0x21 <= byte <= 0x7E for byte in address) or b"#" in address:
        raise Malformed("an address is written in ASCII characters that can be seen, without #")
    _check_arguments(data, at)
    try:
        message = OscMessage(data)
    except (ParseError, UnicodeDecodeError):
        raise Malformed("an argument of the message is not what its type tag says") from None
    return Message(address.decode("ascii"), tuple(message.params))


def _check_arguments(data: bytes, at: int) -> None:
    """Walks through the arguments that the type tags tell of; they must end where the message ends."""
    if at == len(data):
        return  # no type tags: an older sender, and a message without arguments
    if data[at : at + 1] != b",":
        raise Malformed("the arguments have no type tags")
    end = _text_end(data, at)
    tags = data[at + 1 : end].rstrip(b"\0").decode("latin-1")
    if len(tags) > MAX_ARGUMENTS:
        raise Malformed(f"a message has at most {MAX_ARGUMENTS} arguments, this one {len(tags)}")
    for tag in tags:
        if tag == "s":
            end = _text_end(data, end)
        elif tag in WIDTHS:
            end += WIDTHS[tag]
        else:
            raise NotRead(f"an argument of type {ascii(tag)[1:-1]} is not read; send i, f, s, T or F")
    if end != len(data):
        raise Malformed("the message does not end where its type tags say")


def _text_end(data: bytes, at: int) -> int:
    """Where the OSC string that begins at ``at`` ends: one to four zeros, to a multiple of four."""
    stop = data.find(b"\0", at)
    if stop < 0:
        raise Malformed("a text in the message is never closed by a zero")
    end = stop + 4 - stop % 4
    if end > len(data) or any(data[stop:end]):
        raise Malformed("a text in the message is not filled up with zeros to four bytes")
    return end


# ── Writing ─────────────────────────────────────────────────────────────────────────────────────────


def write_message(address: str, arguments: Iterable[Argument]) -> bytes:
    """A message: i for whole numbers of 32 bits, f for others, s for texts, T and F.

    What is said many times a second to many receivers is written here in one go; python-osc's builder
    parses each message again once it is built.
    """
    tags, values = ",", b""
    for value in arguments:
        if value is True or value is False:
            tags += "T" if value else "F"
        elif isinstance(value, int):
            tags += "i"
            values += struct.pack(">i", value)
        elif isinstance(value, float):
            tags += "f"
            values += struct.pack(">f", value)
        elif value is None:
            tags += "N"
        else:
            tags += "s"
            values += _text(value)
    return _text(address) + _text(tags) + values


def write_bundles(messages: Iterable[bytes], most_bytes: int) -> list[bytes]:
    """Messages as datagrams of at most ``most_bytes`` each; one alone goes as it is, more as a bundle."""
    groups: list[list[bytes]] = []
    room = 0
    for message in messages:
        if not groups or room < 4 + len(message):
            groups.append([])
            room = most_bytes - len(BUNDLE) - 8
        groups[-1].append(message)
        room -= 4 + len(message)
    return [group[0] if len(group) == 1 else _bundle(group) for group in groups]


def _bundle(messages: list[bytes]) -> bytes:
    head = BUNDLE + struct.pack(">Q", IMMEDIATELY)
    return head + b"".join(struct.pack(">i", len(message)) + message for message in messages)


def _text(text: str) -> bytes:
    """An OSC string. A zero would end it early, so it is left out."""
    data = text.replace("\0", "").encode("utf-8", "replace")
    return data + bytes(4 - len(data) % 4)
