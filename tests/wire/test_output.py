"""What leaves for whom: universes and their destinations.

Rules: ANSI E1.31-2018, by the clauses named beside each check.
"""

from __future__ import annotations

import pytest

from onecrew.network.delivery import Address
from onecrew.network.sacn_output import SacnOutput
from onecrew.show.show import Sacn, SacnUniverse
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import CID, FRAME_S, LAMP, OTHER_LAMP, Drive, output, sacn, slots


def test_every_destination_of_a_universe_gets_the_same_packet() -> None:
    network = FakeNetwork()
    out = output(sacn({1: (LAMP, f"{OTHER_LAMP}:15568"), 2: (LAMP,)}), network)
    out.send(slots(10, 20), 0.0)
    assert [(address.host, address.port) for address, _ in network.left] == [
        (LAMP, 5568),
        (OTHER_LAMP, 15568),
        (LAMP, 5568),
    ]
    assert network.left[0][1] == network.left[1][1]
    assert len(network.sockets) == 2  # one for each address, not for each universe
    assert [(state.universe, state.to, state.state, state.sent) for state in out.states()] == [
        (1, LAMP, "ok", 1),
        (1, f"{OTHER_LAMP}:15568", "ok", 1),
        (2, LAMP, "ok", 1),
    ]


def test_one_address_written_twice_is_sent_to_once() -> None:
    network = FakeNetwork()
    output(sacn({1: (LAMP, f"{LAMP}:5568")}), network).send(slots(10), 0.0)
    assert len(network.left) == 1


def test_a_universe_without_destinations_goes_to_its_group() -> None:
    network = FakeNetwork()
    settings = Sacn(universes={"256": SacnUniverse(interface="192.0.2.7")})
    out = SacnOutput(settings, (1, 256), CID, "bakery", {}, 0.0, open_socket=network)
    out.send(slots(10, 20), 0.0)
    data = [address for address, packet in network.left if len(packet) == 638]
    assert data == [
        Address("239.255.0.1", 5568, True, None),  # §9.3.1
        Address("239.255.1.0", 5568, True, "192.0.2.7"),
    ]


def test_unicast_alone_sends_nothing_else() -> None:
    network = FakeNetwork()
    drive = Drive(
        output(sacn({1: ("127.0.0.1",), 2: ("127.0.0.1:15568",)}, sync_universe=9), network), network
    )
    drive.send(slots(1, 2), 0.0)
    drive.until(35.0)
    assert {address.host for address, _ in network.left} == {"127.0.0.1"}


def test_no_group_above_the_universes_is_ever_sent_to() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (), 63999: ()}, sync_universe=63999), network), network)
    drive.send(slots(1, 2), 0.0)
    drive.until(11.0)
    third_octets = {int(host.split(".")[2]) for _, host, _ in drive.log}
    assert third_octets <= {*range(250), 250}
    assert not [host for _, host, _ in drive.log if host.startswith("239.255.255.")]  # §9.1.1


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (SacnUniverse(to=("lamp.local",)), "is not an IP address"),
        (SacnUniverse(interface="wlan0"), "is not an IPv4 address"),
    ],
)
def test_an_unusable_destination_is_a_state_and_the_rest_is_lit(settings: SacnUniverse, says: str) -> None:
    network = FakeNetwork()
    listed = {"1": settings, "2": SacnUniverse(to=(LAMP,))}
    out = SacnOutput(Sacn(universes=listed), (1, 2), CID, "bakery", {}, 0.0, open_socket=network)
    out.send(slots(1, 2), 0.0)
    unusable, usable = out.states()
    assert unusable.state == "failing"
    assert says in unusable.error
    assert usable.state == "ok"
    assert {address.host for address, _ in network.left} == {LAMP}


def test_what_the_header_says_comes_from_the_settings() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,)}, priority=150, source_name="oven desk"), network), network)
    drive.send(slots(1), 0.0)
    (packet,) = drive.packets()
    assert (packet.cid, packet.source_name, packet.priority) == (CID.bytes, "oven desk", 150)


@pytest.mark.parametrize(
    "rows", [slots(1), slots(1, 2, 3), slots(1, 2).astype("uint16"), slots(1, 2)[:, :100]]
)
def test_slots_of_another_shape_are_a_bug(rows: object) -> None:
    out = output(sacn({1: (LAMP,), 2: (LAMP,)}), FakeNetwork())
    with pytest.raises(ValueError, match="slots must be uint8 of shape"):
        out.send(rows, 0.0)  # type: ignore[arg-type]


def test_universes_keep_their_own_pace() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (OTHER_LAMP,)}), network), network)
    drive.send(slots(0, 0), 0.0)
    drive.until(3.0)
    count = len(drive.packets(OTHER_LAMP))
    for frame in range(44):
        drive.send(slots(frame + 1, 0), 3.0 + (frame + 1) * FRAME_S)
    assert len([at for at in drive.times(LAMP) if at > 3.0]) == 44
    assert len(drive.packets(OTHER_LAMP)) - count <= 2  # keep-alives only


def test_a_frame_asked_for_too_soon_leaves_when_it_may() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,)}), network), network)
    drive.send(slots(1), 0.0)
    drive.send(slots(2), 0.004)
    drive.send(slots(3), 0.008)
    assert drive.out.next_due(0.008) == pytest.approx(FRAME_S)
    drive.until(FRAME_S)
    assert [packet.slots[0] for packet in drive.packets()] == [1, 3]
