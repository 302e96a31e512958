"""What a change of the show does to the streams, and how they end: ANSI E1.31-2018 §6.2.6, §12."""

from __future__ import annotations

from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import LAMP, OTHER_LAMP, Drive, output, receiver_accepts, sacn, slots


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
    assert drive.out.sequences()[2] == [p.sequence for p in drive.packets() if p.universe == 2][-1]
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
