"""OSC packets against the bytes that OSC 1.0 prints, and against python-osc; nothing unsound gets through."""

from __future__ import annotations

import contextlib
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pythonosc.osc_bundle import OscBundle
from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import OscMessageBuilder

from onecrew.osc import packets as osc_packets
from onecrew.osc.packets import (
    MAX_ARGUMENTS,
    MAX_BYTES,
    MAX_DEPTH,
    MAX_MESSAGES,
    Malformed,
    Message,
    NotRead,
    Timed,
    read_message,
    read_packet,
    unix_time,
    write_bundles,
    write_message,
)
from tests.osc.osc_layout import time_tag

# OSC 1.0 (26 March 2002), examples page: "OSC Message Examples".
OSCILLATOR = bytes.fromhex(
    "2f 6f 73 63 69 6c 6c 61 74 6f 72 2f 34 2f 66 72 65 71 75 65 6e 63 79 00 2c 66 00 00 43 dc 00 00"
)
FOO = bytes.fromhex(
    "2f 66 6f 6f 00 00 00 00 2c 69 69 73 66 66 00 00 00 00 03 e8 ff ff ff ff"
    "68 65 6c 6c 6f 00 00 00 3f 9d f3 b6 40 b5 b2 2d"
)
# The same message in a bundle meant for at once: python-osc 1.10 writes these bytes.
FOO_BUNDLE = bytes.fromhex("23 62 75 6e 64 6c 65 00 00 00 00 00 00 00 00 01 00 00 00 28") + FOO


def bundle(tag: int, *elements: bytes) -> bytes:
    parts = b"".join(struct.pack(">i", len(element)) + element for element in elements)
    return b"#bundle\0" + struct.pack(">Q", tag) + parts


# ── The standard's examples ─────────────────────────────────────────────────────────────────────────


def test_the_oscillator_of_the_specification() -> None:
    assert len(OSCILLATOR) == 32
    assert read_message(OSCILLATOR) == Message("/oscillator/4/frequency", (440.0,))
    assert write_message("/oscillator/4/frequency", (440.0,)) == OSCILLATOR


def test_the_foo_of_the_specification() -> None:
    assert len(FOO) == 40
    address, arguments = read_message(FOO).address, read_message(FOO).arguments
    assert (address, arguments[:3]) == ("/foo", (1000, -1, "hello"))
    # 32-bit floats: half a unit in the 24th binary digit of 1.234 and 5.678.
    assert arguments[3] == pytest.approx(1.234, abs=2**-24)
    assert arguments[4] == pytest.approx(5.678, abs=2**-22)
    assert write_message("/foo", (1000, -1, "hello", 1.234, 5.678)) == FOO


@pytest.mark.parametrize(("text", "size"), [("OSC", 4), ("data", 8)])
def test_strings_are_closed_and_filled_up(text: str, size: int) -> None:
    # OSC 1.0, "OSC Type Tag String" and OSC-string: the examples "OSC" (4 bytes) and "data" (8 bytes).
    assert len(write_message("/a", (text,))) == 4 + 4 + size


def test_a_bundle_meant_for_at_once() -> None:
    assert read_packet(FOO_BUNDLE) == [Timed(None, (read_message(FOO),))]
    small = write_message("/b", ())
    assert write_bundles([FOO, small], 1400) == [FOO_BUNDLE + b"\0\0\0\x08" + small]


def test_time_tags_count_from_1900() -> None:
    # RFC 5905: the NTP era 0 begins 2208988800 s before the Unix epoch; the fraction is of 2³².
    assert time_tag(1700000000.5) == 0xE8FE6F8080000000
    assert unix_time(0xE8FE6F8080000000) == 1700000000.5
    later = bundle(0xE8FE6F8080000000, FOO)
    assert read_packet(later) == [Timed(1700000000.5, (read_message(FOO),))]


def test_an_older_sender_leaves_the_type_tags_out() -> None:
    # OSC 1.0, "OSC Messages": implementations should be robust where the type tag string is missing.
    assert read_message(b"/go\0") == Message("/go", ())
    with pytest.raises(Malformed, match="no type tags"):
        read_message(b"/master\0" + struct.pack(">f", 0.5))


# ── Bundles ─────────────────────────────────────────────────────────────────────────────────────────

A, B, C = (write_message(f"/{name}", ()) for name in "abc")


def test_messages_for_one_moment_stay_together_and_in_order() -> None:
    inner = bundle(1, B)
    assert read_packet(bundle(1, A, inner, C)) == [Timed(None, tuple(map(read_message, (A, B, C))))]


def test_an_inner_bundle_is_never_earlier_than_that_around_it() -> None:
    # OSC 1.0, "OSC Bundles": the time tag of the enclosed must be at or after that of the enclosing bundle.
    early, late = time_tag(1000.0), time_tag(2000.0)
    assert [timed.at for timed in read_packet(bundle(late, A, bundle(early, B), bundle(1, C)))] == [2000.0]
    assert [timed.at for timed in read_packet(bundle(early, A, bundle(late, B)))] == [1000.0, 2000.0]


def test_an_empty_bundle_is_nothing() -> None:
    assert read_packet(bundle(1)) == []


# ── Bounds ──────────────────────────────────────────────────────────────────────────────────────────


def nested(depth: int) -> bytes:
    packet = A
    for _ in range(depth):
        packet = bundle(1, packet)
    return packet


def test_bundles_are_read_so_deep_and_no_deeper() -> None:
    assert read_packet(nested(MAX_DEPTH)) == [Timed(None, (read_message(A),))]
    for depth in (MAX_DEPTH + 1, 400):
        with pytest.raises(Malformed, match="deep"):
            read_packet(nested(depth))


def test_so_many_messages_and_no_more() -> None:
    assert len(read_packet(bundle(1, *[A] * MAX_MESSAGES))[0].messages) == MAX_MESSAGES
    for crowd in (bundle(1, *[A] * (MAX_MESSAGES + 1)), bundle(1, *[bundle(1)] * (MAX_MESSAGES + 1))):
        with pytest.raises(Malformed, match="at most"):
            read_packet(crowd)


def test_so_many_arguments_and_no_more() -> None:
    assert len(read_message(write_message("/a", [True] * MAX_ARGUMENTS)).arguments) == MAX_ARGUMENTS
    with pytest.raises(Malformed, match="arguments"):
        read_message(write_message("/a", [True] * (MAX_ARGUMENTS + 1)))


def test_so_many_bytes_and_no_more() -> None:
    text = "x" * (MAX_BYTES - 4 - 4 - 4)
    assert read_message(write_message("/a", (text,))).arguments == (text,)
    with pytest.raises(Malformed, match="bytes"):
        read_packet(write_message("/a", (text + "xxxx",)))


UNSOUND = [
    b"",
    b"/",
    b"/a\0",
    b"abcd",
    b"/go",
    b"/goo",  # never closed
    b"/g\0o",  # filled up with something else
    b"/a b\0\0\0\0",
    b"/a#b\0\0\0\0",
    b"/\xc3\xa4\0",
    b"/\xff\0\0,\0\0\0",
    b"/m\0\0,f\0\0",  # the float is missing: a parser that fills up reads 0, which is black
    b"/m\0\0,f\0\0\0\0\0\0\0\0\0\0",  # more than the type tags say
    b"/m\0\0,s\0\0abcd",
    b"/m\0\0,s\0\0\xff\xff\0\0",
    b"/m\0\0,i",
    b"#bundle\0",
    b"#bundle\0\0\0\0\0",
    b"#bundle\0" + bytes(7) + b"\1" + b"\0\0\0\x08" + b"/a\0\0",  # an element longer than what is there
    b"#bundle\0" + bytes(7) + b"\1" + b"\0\0\0\0",
    b"#bundle\0" + bytes(7) + b"\1" + b"\xff\xff\xff\xfc" + A,  # a negative size
    b"#bundle\0" + bytes(7) + b"\1" + b"\0\0\0\x02" + b"/a\0\0",
    b"#bundle\0" + bytes(7) + b"\1" + b"\0\0\0\x04" + b"abcd",
]


@pytest.mark.parametrize("data", UNSOUND)
def test_what_is_unsound_is_refused(data: bytes) -> None:
    with pytest.raises(Malformed):
        read_packet(data)


@pytest.mark.parametrize("tag", ["b", "t", "r", "m", "[", "]", "I", "S", "c", "\xff"])
def test_types_that_nothing_takes_are_named(tag: str) -> None:
    data = b"/a\0\0" + b"," + tag.encode("latin-1") + b"\0\0" + b"\0\0\0\0"
    with pytest.raises(NotRead, match="is not read"):
        read_message(data)


# ── Laws ────────────────────────────────────────────────────────────────────────────────────────────

addresses = st.from_regex(r"/[a-z0-9<>._\-!*?/\[\]{},]{0,60}", fullmatch=True)
values = st.one_of(
    st.booleans(),
    st.none(),
    st.integers(-(2**31), 2**31 - 1),
    st.floats(width=32, allow_nan=False),
    st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20),
)


@settings(max_examples=150)
@given(addresses, st.lists(values, max_size=8))
def test_what_is_written_is_read_again(address: str, arguments: list[osc_packets.Argument]) -> None:
    assert read_message(write_message(address, arguments)) == Message(address, tuple(arguments))


@settings(max_examples=100)
@given(addresses, st.lists(values, max_size=8))
def test_it_writes_what_python_osc_writes(address: str, arguments: list[osc_packets.Argument]) -> None:
    builder = OscMessageBuilder(address)
    for argument in arguments:
        builder.add_arg(argument)
    assert write_message(address, arguments) == builder.build().dgram


@settings(max_examples=50)
@given(st.lists(st.integers(0, 40), min_size=1, max_size=60))
def test_bundles_fit_their_datagrams_and_lose_nothing(sizes: list[int]) -> None:
    messages = [write_message("/m", ("x" * size,)) for size in sizes]
    datagrams = write_bundles(messages, 300)
    assert all(len(datagram) <= 300 for datagram in datagrams)
    heard = []
    for datagram in datagrams:
        if datagram.startswith(b"#bundle"):
            heard += [one.dgram for one in OscBundle(datagram) if isinstance(one, OscMessage)]
        else:
            heard.append(datagram)
    assert heard == messages


@settings(max_examples=300)
@given(
    st.binary(max_size=200) | st.binary(max_size=100).map(lambda rest: b"#bundle\0" + bytes(7) + b"\1" + rest)
)
def test_bytes_are_read_or_refused_and_nothing_else(data: bytes) -> None:
    with contextlib.suppress(Malformed):
        read_packet(data)
