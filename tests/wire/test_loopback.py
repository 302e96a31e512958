"""Real sockets, on the loopback interface alone."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Iterator

import pytest

from onecrew.errors import Trouble
from onecrew.network.delivery import Address, open_udp
from onecrew.network.receiver import Receiver
from onecrew.network.sacn_output import SacnOutput
from onecrew.network.sacn_packets import (
    DISCOVERY_UNIVERSE,
    data_header,
    discovery_packets,
    multicast_address,
)
from onecrew.show.show import Sacn, SacnUniverse
from tests.wire.driving import CID, sacn, slots
from tests.wire.e131_layout import parse

PATIENCE_S = 5.0
"""How long a test waits for a packet that a healthy machine delivers at once."""


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.settimeout(PATIENCE_S)
        sock.bind(("127.0.0.1", 0))
        yield sock


def closed_port() -> int:
    """A UDP port on which nobody listens."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


def to_loopback(port: int, *universes: int) -> SacnOutput:
    settings = sacn(dict.fromkeys(universes, (f"127.0.0.1:{port}",)))
    return SacnOutput(settings, universes, CID, "bakery", {}, 0.0)


async def until(holds: Callable[[], bool]) -> None:
    """Lets the loop work until something holds."""
    async with asyncio.timeout(PATIENCE_S):
        while not holds():
            await asyncio.sleep(0.001)


def test_packets_arrive_as_the_standard_lays_them_out(listener: socket.socket) -> None:
    out = to_loopback(listener.getsockname()[1], 1, 2)
    out.send(slots(10, 20), 0.0)
    arrived = [listener.recvfrom(2048) for _ in range(2)]
    out.close()
    packets = [parse(datagram) for datagram, _ in arrived]
    assert [(packet.universe, packet.slots[0], packet.cid) for packet in packets] == [
        (1, 10, CID.bytes),
        (2, 20, CID.bytes),
    ]
    assert all(address[1] != 5568 for _, address in arrived)  # a receiver on this machine keeps that port


def test_a_port_nobody_listens_on_is_no_trouble_and_is_heard_from_the_next_frame() -> None:
    port = closed_port()
    out = to_loopback(port, 1)
    for frame in range(10):
        out.send(slots(frame), frame * 0.1)
    (state,) = out.states()
    assert (state.state, state.errors, state.sent) == ("ok", 0, 10)
    assert "nothing listens there" in state.error
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.settimeout(PATIENCE_S)
        sock.bind(("127.0.0.1", port))
        out.send(slots(99), 2.0)
        assert parse(sock.recv(2048)).slots[0] == 99
    out.close()


def has_ipv6() -> bool:
    try:
        with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as sock:
            sock.bind(("::1", 0))
    except OSError:
        return False
    return True


@pytest.mark.skipif(not has_ipv6(), reason="this machine has no IPv6 loopback address")
def test_an_ipv6_destination() -> None:
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as sock:
        sock.settimeout(PATIENCE_S)
        sock.bind(("::1", 0))
        settings = sacn({1: (f"[::1]:{sock.getsockname()[1]}",)})
        out = SacnOutput(settings, (1,), CID, "bakery", {}, 0.0)
        out.send(slots(42), 0.0)
        assert parse(sock.recv(2048)).slots[0] == 42
        out.close()


def test_an_interface_that_this_machine_does_not_have_is_a_state() -> None:
    settings = Sacn(universes={"1": SacnUniverse(interface="192.0.2.99")})  # RFC 5737: nobody's address
    out = SacnOutput(settings, (1,), CID, "bakery", {}, 0.0)
    out.send(slots(1), 0.0)
    (state,) = out.states()
    out.close()
    assert (state.state, state.sent) == ("failing", 0)
    assert state.error
    assert out.next_due(0.0) <= 1 / 44


def test_receiver_hears_the_output_and_its_end() -> None:
    async def scenario() -> None:
        receiver = await Receiver.open("127.0.0.1", 0)
        out = to_loopback(receiver.port, 1)
        try:
            out.send(slots(123), 0.0)
            await until(lambda: receiver.received == 1)
            assert (receiver.levels(1) or b"")[0] == 123
            (source,) = receiver.sources()
            assert (source.name, source.cid, source.host) == ("bakery", CID, "127.0.0.1")
            now = 0.0
            out.end(now)
            while not out.ended:
                now = out.next_due(now)
                out.send(None, now)
            await until(lambda: receiver.received == 4)
            assert receiver.levels(1) is None
            assert (receiver.bad, receiver.out_of_order, receiver.crowded_out) == (0, 0, 0)
        finally:
            out.close()
            receiver.close()
            await asyncio.sleep(0)

    asyncio.run(scenario())


def test_rubbish_on_the_port_is_counted() -> None:
    async def scenario() -> None:
        receiver = await Receiver.open("127.0.0.1", 0, [1])
        rubbish = open_udp(Address("127.0.0.1", receiver.port))
        try:
            for octets in (b"", b"hello", bytes(638)):
                rubbish.send(octets)
            await until(lambda: receiver.received == 3)
            assert receiver.bad == 3
            assert receiver.sources() == []
        finally:
            rubbish.close()
            receiver.close()
            await asyncio.sleep(0)

    asyncio.run(scenario())


def test_a_port_in_use_is_said_and_not_shared(listener: socket.socket) -> None:
    port = listener.getsockname()[1]
    with pytest.raises(Trouble, match=f"UDP port {port} on 127.0.0.1 is in use by another program"):
        asyncio.run(Receiver.open("127.0.0.1", port))


def test_nobody_can_take_the_port_away_from_a_receiver() -> None:
    async def scenario() -> None:
        receiver = await Receiver.open("127.0.0.1", 0)
        thief = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        thief.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            with pytest.raises(OSError, match="in use"):
                thief.bind(("127.0.0.1", receiver.port))
        finally:
            thief.close()
            receiver.close()
            await asyncio.sleep(0)

    asyncio.run(scenario())


def test_an_address_of_another_machine_cannot_be_listened_on() -> None:
    with pytest.raises(Trouble, match=r"192\.0\.2\.99 is not an address of this machine"):
        asyncio.run(Receiver.open("192.0.2.99", 0))


def test_multicast_on_a_chosen_interface() -> None:
    """46 groups: more than one socket can join."""
    universes = range(47001, 47046)

    async def scenario() -> None:
        receiver = await Receiver.open("127.0.0.1", 0, universes, multicast=True)
        groups = [
            open_udp(Address(multicast_address(universe), receiver.port, True, "127.0.0.1"))
            for universe in (47001, 47045, DISCOVERY_UNIVERSE)
        ]
        try:
            for group, universe in zip(groups, (47001, 47045), strict=False):
                group.send(bytes(data_header(CID, "bakery", universe)))
            (page,) = discovery_packets(CID, "bakery", universes)
            groups[-1].send(page)
            await until(lambda: receiver.received == 3)
            assert [said.universes for said in receiver.announced()] == [tuple(universes)]
            assert receiver.universes() == (47001, 47045)
            assert receiver.out_of_order == 0
            assert {source.host for source in receiver.sources()} == {"127.0.0.1"}
        finally:
            for group in groups:
                group.close()
            receiver.close()
            await asyncio.sleep(0)

    asyncio.run(scenario())


@pytest.mark.parametrize("universes", [None, [], range(1, 600)])
def test_multicast_needs_universes_to_join(universes: list[int] | None) -> None:
    with pytest.raises(ValueError, match="name the universes"):
        asyncio.run(Receiver.open("127.0.0.1", 0, universes, multicast=True))
