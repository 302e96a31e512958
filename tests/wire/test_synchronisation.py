"""Universes that change together: ANSI E1.31-2018 §6.3, §11, on a simulated clock."""

from __future__ import annotations

from itertools import pairwise

from onecrew.network.sacn_output import SacnOutput
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import CID, FRAME_S, LAMP, OTHER_LAMP, Drive, output, sacn, slots


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


def test_data_that_left_before_the_end_is_still_shown() -> None:
    """A receiver holds it until its sync packet comes (§11.1), and it may be the black that was faded to."""
    network = FakeNetwork()
    settings = sacn({1: (LAMP,), 2: (LAMP,)}, sync_universe=9)
    out = SacnOutput(settings, (1, 2), CID, "bakery", {}, 0.0, open_socket=network, sync_delay_s=0.002)
    drive = Drive(out, network)
    drive.send(slots(0, 0), 0.0)
    drive.out.end(0.001)
    drive.until(1.0)
    assert drive.times(kind="sync") == [0.002]
    assert drive.out.ended and drive.out.next_due(1.0) == float("inf")
