"""Art-Net 4 as a second output.

Layouts and rules: the published Art-Net 4 specification, from memory; the octets below were dissected by
tshark 4.0 with the same meaning.
"""

from __future__ import annotations

import asyncio
import errno
import socket
import threading
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Trouble
from onecrew.network.artnet_output import ArtnetOutput
from onecrew.network.artnet_packets import art_dmx, art_poll, art_sync, parse_poll_reply
from onecrew.network.artnet_poll import poll
from onecrew.show.show import Artnet, ArtnetUniverse
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import FRAME_S, LAMP, OTHER_LAMP, slots


def artnet(sync: bool = False, **universes: tuple[str, ...]) -> Artnet:
    """Settings with destinations by universe, written u1=…, u2=…"""
    listed = {name[1:]: ArtnetUniverse(to=to) for name, to in universes.items()}
    return Artnet(sync=sync, universes=listed)


def run(out: ArtnetOutput, network: FakeNetwork, start: float, end: float) -> list[tuple[float, bytes]]:
    """Calls the output whenever it asks for it; what left, with its time."""
    left = []
    now = start
    while (now := out.next_due(now)) <= end:
        before = len(network.left)
        out.send(None, now)
        left += [(now, data) for _, data in network.left[before:]]
    return left


# ── octets ──────────────────────────────────────────────────────────────────────────────────────────


def test_art_dmx() -> None:
    packet = art_dmx(0x0123)
    assert packet[:18] == bytes.fromhex("4172742d4e657400 0050 000e 00 00 23 01 0200")
    assert packet[18:] == bytes(512)


@pytest.mark.parametrize("port_address", [-1, 0x8000])
def test_art_dmx_knows_32768_port_addresses(port_address: int) -> None:
    with pytest.raises(ValueError, match="port-address"):
        art_dmx(port_address)


@pytest.mark.parametrize("count", [0, 1, 3, 511, 514])
def test_art_dmx_has_an_even_number_of_slots(count: int) -> None:
    with pytest.raises(ValueError, match="even number"):
        art_dmx(0, count)


def test_art_sync_and_art_poll() -> None:
    assert art_sync() == bytes.fromhex("4172742d4e657400 0052 000e 0000")
    assert art_poll() == bytes.fromhex("4172742d4e657400 0020 000e 0000")


def poll_reply(ports: int = 2, types: bytes = b"\xc0\x80\0\0") -> bytes:
    """An ArtPollReply, field by field: net 1, sub-net 2, outputs 3 and 4, input 5."""
    return b"".join(
        [
            b"Art-Net\0",
            bytes.fromhex("0021"),  # OpCode, little-endian
            bytes([192, 0, 2, 50]),  # IP address
            bytes.fromhex("3619"),  # port 0x1936, little-endian
            bytes(2),  # firmware version
            bytes([1, 2]),  # NetSwitch, SubSwitch
            bytes(2),  # Oem
            bytes(1),  # UBEA version
            bytes(1),  # Status1
            bytes(2),  # ESTA manufacturer
            b"oven".ljust(18, b"\0"),
            b"the oven's tube".ljust(64, b"\0"),
            b"#0001 [0000] fine".ljust(64, b"\0"),
            bytes([0, ports]),
            types,
            bytes(4),  # GoodInput
            bytes(4),  # GoodOutput
            bytes([5, 0, 0, 0]),  # SwIn
            bytes([3, 4, 0, 0]),  # SwOut
            bytes(7),  # AcnPriority, SwMacro, SwRemote, spare, Style
            bytes.fromhex("020000000001"),  # MAC address
            bytes(4),  # BindIp
            bytes([1]),  # BindIndex
            bytes(27),  # Status2 and filler
        ]
    )


def test_art_poll_reply() -> None:
    assert len(poll_reply()) == 239
    node = parse_poll_reply(poll_reply(), "192.0.2.50")
    assert (node.host, node.short_name, node.long_name) == ("192.0.2.50", "oven", "the oven's tube")
    assert node.report == "#0001 [0000] fine"
    assert node.outputs == (0x123, 0x124)
    assert node.inputs == (0x125,)
    assert node.mac == "02:00:00:00:00:01"


@given(st.binary(max_size=250), st.booleans())
def test_any_answer_is_read_or_refused(octets: bytes, headed: bool) -> None:
    datagram = poll_reply()[:10] + octets if headed else octets
    try:
        node = parse_poll_reply(datagram, "192.0.2.50")
    except ValueError:
        assert not headed or len(datagram) < 207
    else:
        assert all(0 <= address <= 0x7FFF for address in (*node.outputs, *node.inputs))


# ── sending ─────────────────────────────────────────────────────────────────────────────────────────


def test_a_universe_goes_to_the_port_address_below_it_unless_told() -> None:
    network = FakeNetwork()
    listed = {
        "1": ArtnetUniverse(to=(LAMP,)),
        "3": ArtnetUniverse(to=(f"{OTHER_LAMP}:7000",), port_address=0x321),
    }
    out = ArtnetOutput(Artnet(universes=listed), (1, 2, 3), open_socket=network)
    out.send(slots(11, 22, 33), 0.0)
    assert [(address.host, address.port) for address, _ in network.left] == [(LAMP, 6454), (OTHER_LAMP, 7000)]
    assert [(data[14] | data[15] << 8, data[18]) for _, data in network.left] == [(0, 11), (0x321, 33)]
    assert [(state.protocol, state.universe, state.state) for state in out.states()] == [
        ("artnet", 1, "ok"),
        ("artnet", 3, "ok"),
    ]


def test_sequence_runs_from_1_to_255_and_is_never_0() -> None:
    network = FakeNetwork()
    out = ArtnetOutput(artnet(u1=(LAMP,)), (1,), open_socket=network)
    for frame in range(520):
        out.send(slots(frame % 256), frame * FRAME_S)
    numbers = [data[12] for _, data in network.left]
    assert numbers[:3] == [1, 2, 3]
    assert set(numbers) == set(range(1, 256))
    assert numbers[254:257] == [255, 1, 2]


def test_pace_at_rest_and_while_changing() -> None:
    network = FakeNetwork()
    out = ArtnetOutput(artnet(u1=(LAMP,)), (1,), open_socket=network)
    out.send(slots(1), 0.0)
    times = [0.0] + [at for at, _ in run(out, network, 0.0, 12.0)]
    gaps = [b - a for a, b in pairwise(times)]
    assert gaps[:3] == pytest.approx([FRAME_S] * 3)
    assert all(0.8 <= gap <= 4.0 for gap in gaps[3:])  # repeated at least every 4 s
    out.send(slots(2), 12.5)
    out.send(slots(3), 12.51)
    assert out.next_due(12.51) == pytest.approx(12.5 + FRAME_S)


def test_sync_follows_the_data_when_asked() -> None:
    network = FakeNetwork()
    out = ArtnetOutput(artnet(sync=True, u1=(LAMP,), u2=(OTHER_LAMP,)), (1, 2), open_socket=network)
    out.send(slots(1, 2), 0.0)
    opcodes = [(address.host, data[8:10].hex()) for address, data in network.left]
    assert opcodes == [(LAMP, "0050"), (OTHER_LAMP, "0050"), (LAMP, "0052"), (OTHER_LAMP, "0052")]
    syncs = [at for at, data in run(out, network, 0.0, 10.0) if data[8:10] == b"\0\x52"]
    assert max(b - a for a, b in pairwise(syncs)) < 4.0  # nodes leave synchronous mode after 4 s


def test_trouble_is_a_state_and_heals() -> None:
    network = FakeNetwork(fault=errno.ENETUNREACH)
    listed = {"1": ArtnetUniverse(to=(LAMP, "lamp.local"))}
    out = ArtnetOutput(Artnet(universes=listed), (1,), open_socket=network)
    out.send(slots(9), 0.0)
    assert [state.state for state in out.states()] == ["failing", "failing"]
    network.fault = None
    left = run(out, network, 0.0, 0.05)
    assert left[0][1][18] == 9
    assert [state.state for state in out.states()] == ["ok", "failing"]


def test_reconfigure_keeps_what_stays() -> None:
    network = FakeNetwork()
    out = ArtnetOutput(artnet(u1=(LAMP,), u2=(LAMP,)), (1, 2), open_socket=network)
    out.send(slots(1, 2), 0.0)
    out.reconfigure(artnet(u2=(LAMP, OTHER_LAMP)), (1, 2))
    out.send(slots(1, 2), 1.0)
    assert [(address.host, data[12], data[18]) for address, data in network.left[2:]] == [
        (LAMP, 2, 2),
        (OTHER_LAMP, 2, 2),
    ]
    out.reconfigure(None, (1, 2))
    assert out.states() == ()
    assert network.open_sockets == []
    assert out.next_due(2.0) == float("inf")


# ── polling ─────────────────────────────────────────────────────────────────────────────────────────


def test_poll_lists_the_nodes_that_answer() -> None:
    """One node on loopback answers, twice and with rubbish in between; another address stays silent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as node:
        node.settimeout(5.0)
        node.bind(("127.0.0.1", 0))
        asked = []

        def answer() -> None:
            question, asker = node.recvfrom(2048)
            asked.append(question)
            for datagram in (poll_reply(), b"rubbish", poll_reply()):
                node.sendto(datagram, asker)

        answering = threading.Thread(target=answer)
        answering.start()
        addresses = [node.getsockname(), ("127.0.0.1", 9)]
        nodes = asyncio.run(poll(addresses, listen=("127.0.0.1", 0), answer_s=0.3))
        answering.join()
    assert asked == [art_poll()]
    assert [(found.host, found.short_name) for found in nodes] == [("127.0.0.1", "oven")]


def test_poll_needs_its_port() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("127.0.0.1", 0))
        with pytest.raises(Trouble, match="in use by another program"):
            asyncio.run(poll([], listen=taken.getsockname(), answer_s=0.0))
