"""What leaves for whom: universes, destinations, synchronisation, discovery, and the end of it.

Rules: ANSI E1.31-2018, by the clauses named beside each check.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from controller.documents.show import Sacn, SacnUniverse
from controller.output.delivery import Address
from controller.output.sacn_output import SYNC_KEY, SacnOutput
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import CID, FRAME_S, LAMP, OTHER_LAMP, Drive, output, sacn, slots

DISCOVERY_GROUP = "239.255.250.214"  # Appendix A


# ── destinations ────────────────────────────────────────────────────────────────────────────────────


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


# ── pacing across universes ─────────────────────────────────────────────────────────────────────────


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


# ── sequence ────────────────────────────────────────────────────────────────────────────────────────


def receiver_accepts(newest: int, number: int) -> bool:
    """§6.7.2, from the text: discard if the signed 8-bit difference is in (−20, 0]."""
    difference = (number - newest + 128) % 256 - 128
    return not -20 < difference <= 0


@pytest.mark.parametrize("saved", [0, 100, 127, 128, 200, 255])
def test_after_a_restart_receivers_accept_the_first_packet(saved: int) -> None:
    """Whatever number was saved, and however many packets left after that: up to 127, 2.8 s at 44 Hz."""
    network = FakeNetwork()
    settings = sacn({1: (LAMP,), 2: (LAMP,)}, sync_universe=9)
    numbers = {1: saved, 2: saved, SYNC_KEY: saved}
    out = SacnOutput(settings, (1, 2), CID, "bakery", numbers, 0.0, open_socket=network)
    drive = Drive(out, network)
    drive.send(slots(1, 2), 0.0)
    assert [packet.kind for _, _, packet in drive.log] == ["data", "data", "sync"]
    for unsaved in range(128):
        newest = (saved + unsaved) % 256
        assert all(receiver_accepts(newest, packet.sequence) for _, _, packet in drive.log)


def test_sequences_are_per_universe_and_handed_back() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (OTHER_LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(1, 1), 0.0)
    for frame in range(1, 6):
        drive.send(slots(1 + frame, 1), frame * FRAME_S)
    last = {packet.universe: packet.sequence for packet in drive.packets()}
    assert last[1] == 5
    assert drive.out.sequences() == {
        1: last[1],
        2: last[2],
        SYNC_KEY: drive.packets(kind="sync")[-1].sequence,
    }


# ── synchronisation ─────────────────────────────────────────────────────────────────────────────────


def test_one_sync_packet_follows_the_data_of_all_universes() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (LAMP,), 3: (OTHER_LAMP,)}, sync_universe=9), network), network)
    for frame in range(3):
        drive.send(slots(frame, frame, frame), frame * FRAME_S)
    kinds = [(packet.kind, host) for _, host, packet in drive.log]
    frame_of = [("data", LAMP), ("data", LAMP), ("data", OTHER_LAMP), ("sync", LAMP), ("sync", OTHER_LAMP)]
    assert kinds == frame_of * 3
    assert {packet.sync_address for _, _, packet in drive.log} == {9}
    assert [packet.sequence for packet in drive.packets(LAMP, "sync")] == [0, 1, 2]  # §6.7.2: its own numbers


def test_sync_goes_to_the_group_of_its_universe_where_data_goes_by_multicast() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (), 2: (LAMP,)}, sync_universe=500), network), network)
    drive.send(slots(1, 2), 0.0)
    assert {host for _, host, packet in drive.log if packet.kind == "sync"} == {"239.255.1.244", LAMP}


def test_a_single_universe_needs_no_synchronisation() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(1), 0.0)
    drive.until(3.0)
    assert {(packet.kind, packet.sync_address) for _, _, packet in drive.log} == {("data", 0)}


def test_synchronised_universes_change_in_one_frame() -> None:
    """A universe that may not yet leave holds the other back, so that neither shows the change alone."""
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (OTHER_LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(0, 0), 0.0)
    drive.until(2.0)
    drive.send(slots(0, 1), 2.5)
    start = len(drive.log)
    drive.send(slots(9, 9), 2.505)
    drive.until(2.53)
    moved = [(at, packet.kind, packet.universe) for at, _, packet in drive.log[start:]]
    then = 2.5 + FRAME_S
    assert moved == [(then, "data", 1), (then, "data", 2), (then, "sync", 0), (then, "sync", 0)]


def test_sync_packets_keep_the_rate_and_never_stay_away_for_2500_ms() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(0, 0), 0.0)
    for step in range(200):
        drive.until(step * 0.013)
        drive.send(slots(step % 7, step % 3), step * 0.013)
    drive.until(20.0)
    times = drive.times(kind="sync")
    assert all(any(0 <= at - data_at <= FRAME_S + 1e-6 for at in times) for data_at in drive.times())
    gaps = [b - a for a, b in pairwise(times)]
    assert min(gaps) >= FRAME_S - 1e-6
    assert max(gaps) < 2.5  # §6.2.4.1, Appendix A: E131_NETWORK_DATA_LOSS_TIMEOUT


def test_data_that_follows_a_sync_packet_too_soon_gets_its_own_as_soon_as_it_may() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (OTHER_LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(0, 0), 0.0)
    drive.until(0.4)
    drive.send(slots(0, 1), 0.4)
    drive.until(1.2)
    keep_alive = drive.times(LAMP, "sync")[-1]
    assert drive.packets(OTHER_LAMP)[-1].slots[0] == 1
    drive.send(slots(0, 2), keep_alive + 0.005)
    assert drive.times(OTHER_LAMP)[-1] == keep_alive + 0.005
    drive.until(keep_alive + FRAME_S)
    assert drive.times(OTHER_LAMP, "sync")[-1] == keep_alive + FRAME_S


def test_a_delay_can_be_left_before_the_sync_packet() -> None:
    network = FakeNetwork()
    settings = sacn({1: (LAMP,), 2: (LAMP,)}, sync_universe=9)
    out = SacnOutput(settings, (1, 2), CID, "bakery", {}, 0.0, open_socket=network, sync_delay_s=0.002)
    drive = Drive(out, network)
    drive.send(slots(1, 1), 0.0)
    drive.until(0.01)
    assert drive.times(kind="sync") == [0.002]  # §11.2.2


# ── discovery ───────────────────────────────────────────────────────────────────────────────────────


def test_discovery_every_ten_seconds_with_every_universe() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({7: (), 1: (), 2: (LAMP,)}), network), network)
    drive.send(slots(1, 2, 3), 0.0)
    drive.until(35.0)
    assert drive.times(DISCOVERY_GROUP, "discovery") == pytest.approx([0.0, 10.0, 20.0, 30.0])
    assert {packet.universes for packet in drive.packets(kind="discovery")} == {(1, 2, 7)}


def test_discovery_leaves_by_each_interface_in_use() -> None:
    network = FakeNetwork()
    listed = {
        "1": SacnUniverse(interface="192.0.2.7"),
        "2": SacnUniverse(to=(LAMP,), interface="192.0.2.8"),
        "3": SacnUniverse(to=(LAMP,)),
    }
    out = SacnOutput(Sacn(universes=listed), (1, 2, 3), CID, "bakery", {}, 0.0, open_socket=network)
    out.send(slots(1, 2, 3), 0.0)
    by = {address.interface for address, _ in network.left if address.host == DISCOVERY_GROUP}
    assert by == {"192.0.2.7", "192.0.2.8"}


@pytest.mark.parametrize(("asked", "to", "leaves"), [(True, (LAMP,), True), (False, (), False)])
def test_discovery_as_asked(asked: bool, to: tuple[str, ...], leaves: bool) -> None:
    network = FakeNetwork()
    out = SacnOutput(sacn({1: to}), (1,), CID, "bakery", {}, 0.0, open_socket=network, discovery=asked)
    out.send(slots(1), 0.0)
    assert any(address.host == DISCOVERY_GROUP for address, _ in network.left) is leaves


# ── changes of the show ─────────────────────────────────────────────────────────────────────────────


def test_streams_that_stay_go_on_without_a_gap_and_the_others_are_terminated() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (OTHER_LAMP,)}), network), network)
    drive.send(slots(1, 2), 0.0)
    drive.until(1.0)
    last = drive.packets(LAMP)[-1].sequence
    drive.out.reconfigure(sacn({1: (LAMP,), 3: (LAMP,)}), (1, 3), "bakery", 1.0)
    drive.send(slots(1, 3), 1.0)
    drive.until(4.0)
    stayed = [packet for at, _, packet in drive.log if at >= 1.0 and packet.universe == 1]
    assert stayed[0].sequence == (last + 1) % 256
    assert not any(packet.terminated for packet in stayed)
    ended = [packet.terminated for at, _, packet in drive.log if at >= 1.0 and packet.universe == 2]
    assert ended == [True] * 3
    assert [state.universe for state in drive.out.states()] == [1, 3]
    assert len(network.open_sockets) == 1


def test_a_new_destination_gets_the_light_at_once() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,)}), network), network)
    drive.send(slots(77), 0.0)
    drive.until(2.0)
    drive.out.reconfigure(sacn({1: (LAMP, OTHER_LAMP)}), (1,), "bakery", 2.0)
    drive.send(None, 2.0)
    (packet,) = drive.packets(OTHER_LAMP)
    assert packet.slots[0] == 77
    assert drive.times(OTHER_LAMP) == [2.0]


def test_a_destination_no_longer_named_is_left_alone() -> None:
    """No Stream_Terminated: the universe goes on, and the same lamp may be reached by another way."""
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP, OTHER_LAMP)}), network), network)
    drive.send(slots(1), 0.0)
    drive.out.reconfigure(sacn({1: (LAMP,)}), (1,), "bakery", 0.5)
    drive.until(3.0)
    assert len(drive.packets(OTHER_LAMP)) == 1
    assert not any(packet.terminated for packet in drive.packets())
    assert [sock.address.host for sock in network.open_sockets] == [LAMP]


def test_a_universe_taken_back_in_time_is_not_terminated_further() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (LAMP,)}), network), network)
    drive.send(slots(1, 2), 0.0)
    drive.out.reconfigure(sacn({1: (LAMP,)}), (1,), "bakery", 1.0)
    drive.send(None, 1.0)
    before = [packet for packet in drive.packets() if packet.universe == 2]
    assert before[-1].terminated
    drive.out.reconfigure(sacn({1: (LAMP,), 2: (LAMP,)}), (1, 2), "bakery", 1.01)
    start = len(drive.log)
    drive.send(slots(1, 2), 1.01)
    drive.until(3.0)
    after = [packet for _, _, packet in drive.log[start:] if packet.universe == 2]
    assert not any(packet.terminated for packet in after)
    assert receiver_accepts(before[-1].sequence, after[0].sequence)


def test_new_settings_leave_at_once() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,)}), network), network)
    drive.send(slots(5), 0.0)
    drive.until(2.0)
    drive.out.reconfigure(sacn({1: (LAMP,)}, priority=120), (1,), "bakery", 2.1)
    drive.send(None, 2.1)
    packet = drive.packets()[-1]
    assert (drive.times()[-1], packet.priority, packet.slots[0]) == (2.1, 120, 5)


def test_discovery_says_so_once_when_universes_change() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: ()}), network), network)
    drive.send(slots(1), 0.0)
    for at, universes in [(2.0, (1, 2)), (3.0, (1, 2, 3)), (4.0, (1, 4))]:
        drive.until(at)
        drive.out.reconfigure(sacn(dict.fromkeys(universes, ())), universes, "bakery", at)
        drive.send(slots(*universes), at)
    drive.until(25.0)
    said = [(at, packet.universes) for at, _, packet in drive.log if packet.kind == "discovery"]
    assert [(round(at, 6), universes) for at, universes in said] == [
        (0.0, (1,)),
        (2.0, (1, 2)),  # §4.3: at most one more set in an interval
        (10.0, (1, 4)),
        (20.0, (1, 4)),
    ]


# ── the end ─────────────────────────────────────────────────────────────────────────────────────────


def test_the_end_is_three_terminated_packets_for_everyone() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (LAMP, OTHER_LAMP)}, sync_universe=9), network), network)
    drive.send(slots(1, 2), 0.0)
    drive.until(1.0)
    start = len(network.left)
    drive.out.end(1.0)
    drive.until(10.0)
    assert drive.out.ended
    left = [(address.host, data[113:115], data[112] & 0x40) for address, data in network.left[start:]]
    for host, universe in [(LAMP, b"\0\1"), (LAMP, b"\0\2"), (OTHER_LAMP, b"\0\2")]:
        assert [flag for to, number, flag in left if (to, number) == (host, universe)] == [0x40] * 3
    assert len(left) == 9
    drive.out.close()
    assert network.open_sockets == []


def test_the_end_comes_whatever_the_network_does() -> None:
    network = FakeNetwork(fault=101)
    drive = Drive(output(sacn({1: (LAMP,)}), network), network)
    drive.send(slots(1), 0.0)
    drive.out.end(0.5)
    drive.until(1.0)
    assert drive.out.ended
