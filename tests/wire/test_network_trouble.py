"""What an output does while the network fails, and that it heals by itself."""

from __future__ import annotations

import errno
from itertools import pairwise

import pytest

from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import FRAME_S, LAMP, OTHER_LAMP, Drive, output, sacn, slots

AWAY = [
    errno.ENETUNREACH,
    errno.ENETDOWN,
    errno.EHOSTUNREACH,
    errno.EADDRNOTAVAIL,
    errno.ENODEV,
    errno.EINVAL,
]
HELD_BACK = [errno.EPERM, errno.EACCES]
FULL = [errno.EAGAIN, errno.ENOBUFS]


def started(network: FakeNetwork, *hosts: str) -> Drive:
    drive = Drive(output(sacn({1: hosts or (LAMP,)}), network), network)
    drive.send(slots(1), 0.0)
    drive.until(2.0)
    return drive


@pytest.mark.parametrize("fault", AWAY + HELD_BACK + FULL)
def test_a_failure_is_a_state_with_words_and_heals(fault: int) -> None:
    network = FakeNetwork()
    drive = started(network)
    network.fault = fault
    drive.send(slots(2), 2.5)
    drive.until(3.0)
    (state,) = drive.out.states()
    assert state.state == "failing"
    assert state.errors >= 20
    assert len(state.error) > 10
    network.fault = None
    back = drive.now
    drive.until(back + 0.05)
    first = min(at for at in drive.times() if at > 2.5)
    assert first - back <= 0.05  # the design's own number: first packet ≤ 50 ms after the network is back
    assert drive.packets()[-1].slots[0] == 2
    (state,) = drive.out.states()
    assert (state.state, state.error) == ("ok", "")


@pytest.mark.parametrize("fault", AWAY + HELD_BACK + FULL)
def test_a_failing_output_is_tried_again_every_frame_and_no_faster(fault: int) -> None:
    network = FakeNetwork()
    drive = started(network)
    network.fault = network.opening_fault = fault
    drive.send(slots(2), 2.5)
    errors = drive.out.states()[0].errors
    drive.until(3.5)
    assert drive.out.states()[0].errors - errors in (43, 44)


def test_a_network_that_is_away_from_the_start() -> None:
    network = FakeNetwork(opening_fault=errno.ENETUNREACH)
    drive = Drive(output(sacn({1: (LAMP,)}), network), network)
    assert drive.out.states()[0].state == "waiting"
    drive.send(slots(9), 0.0)
    drive.until(5.0)
    assert drive.out.states()[0].state == "failing"
    network.opening_fault = None
    drive.until(5.05)
    assert [packet.slots[0] for packet in drive.packets()][:1] == [9]
    assert drive.out.states()[0].state == "ok"


@pytest.mark.parametrize("fault", [errno.ENETUNREACH, errno.EADDRNOTAVAIL, errno.EINVAL, errno.ENODEV])
def test_a_socket_of_a_lost_network_is_made_anew(fault: int) -> None:
    """Its source address is that of the network that was: after a change of network it never sends."""
    network = FakeNetwork()
    drive = started(network)
    (old,) = network.open_sockets
    old.pending = [fault] * 100
    drive.send(slots(2), 2.5)
    assert old.closed
    assert drive.packets()[-1].slots[0] == 2  # the same frame, by the new socket
    assert drive.out.states()[0].state == "ok"


def test_a_full_buffer_keeps_the_socket() -> None:
    network = FakeNetwork()
    drive = started(network)
    (sock,) = network.open_sockets
    sock.pending = [errno.EAGAIN]
    drive.send(slots(2), 2.5)
    assert drive.out.states()[0].state == "failing"
    drive.until(2.5 + FRAME_S)
    assert network.open_sockets == [sock]
    assert drive.packets()[-1].slots[0] == 2
    assert drive.out.states()[0].state == "ok"


def test_a_closed_socket_is_opened_again() -> None:
    network = FakeNetwork()
    drive = started(network)
    network.open_sockets[0].closed = True
    drive.send(slots(2), 2.5)
    assert drive.packets()[-1].slots[0] == 2
    assert drive.out.states()[0].state == "ok"


def test_nobody_listening_loses_no_frame_and_is_no_failure() -> None:
    """A connected UDP socket raises ECONNREFUSED for the packet before instead of sending the next."""
    network = FakeNetwork(nobody_listens={LAMP})
    drive = started(network)
    for frame in range(1, 45):
        drive.send(slots(100 + frame), 2.5 + frame * FRAME_S)
    shown = [packet.slots[0] for at, _, packet in drive.log if at > 2.5]
    assert shown == list(range(101, 145))
    (state,) = drive.out.states()
    assert (state.state, state.errors) == ("ok", 0)
    assert "nothing listens there" in state.error
    assert len(network.sockets) == 1


def test_the_remark_goes_when_somebody_listens_again() -> None:
    network = FakeNetwork(nobody_listens={LAMP})
    drive = started(network)
    network.nobody_listens = set()
    drive.until(drive.now + 2.0)
    assert "nothing listens" in drive.out.states()[0].error
    drive.until(drive.now + 6.0)
    assert drive.out.states()[0].error == ""


def test_a_lamp_that_is_off_is_told_and_counted_while_packets_still_leave() -> None:
    network = FakeNetwork()
    drive = started(network)
    network.open_sockets[0].pending = [errno.EHOSTUNREACH]
    drive.send(slots(2), 2.5)
    (state,) = drive.out.states()
    assert (state.state, state.errors) == ("ok", 1)
    assert "nobody answers" in state.error
    assert drive.packets()[-1].slots[0] == 2


def test_one_dead_destination_slows_no_other() -> None:
    network = FakeNetwork(faults={OTHER_LAMP: errno.EHOSTUNREACH})
    drive = started(network, LAMP, OTHER_LAMP)
    start = drive.now
    for step in range(1, 40):
        drive.until(start + step * 0.1)
        drive.send(slots(100 + step), start + step * 0.1)
    lit = {packet.slots[0]: at for at, host, packet in reversed(drive.log) if host == LAMP and at > start}
    assert all(lit[100 + step] == pytest.approx(start + step * 0.1) for step in range(1, 40))
    healthy, dead = drive.out.states()
    assert (healthy.state, healthy.errors, dead.state) == ("ok", 0, "failing")


def test_a_healed_destination_keeps_to_44_hz() -> None:
    network = FakeNetwork()
    drive = started(network, LAMP, OTHER_LAMP)
    network.faults[LAMP] = errno.ENETUNREACH
    for step in range(120):
        now = 2.5 + step * 0.007
        drive.until(now)
        drive.send(slots(step), now)
        if step == 60:
            network.faults.clear()
    drive.until(4.0)
    for host in (LAMP, OTHER_LAMP):
        times = drive.times(host)
        assert min(b - a for a, b in pairwise(times)) >= FRAME_S - 1e-6
    assert drive.packets(LAMP)[-1].slots[0] == 119


def test_a_destination_healed_this_moment_gets_a_change_as_soon_as_it_may() -> None:
    network = FakeNetwork()
    drive = started(network, LAMP, OTHER_LAMP)
    network.faults[LAMP] = errno.ENETUNREACH
    drive.send(slots(2), 2.5)
    drive.until(2.9)
    network.faults.clear()
    drive.until(2.9 + FRAME_S)
    healed = drive.times(LAMP)[-1]
    assert healed > 2.9
    drive.send(slots(3), healed + 0.005)
    assert (drive.packets(OTHER_LAMP)[-1].slots[0], drive.packets(LAMP)[-1].slots[0]) == (3, 2)
    drive.until(healed + FRAME_S)
    assert (drive.times(LAMP)[-1], drive.packets(LAMP)[-1].slots[0]) == (healed + FRAME_S, 3)


def test_a_synchronised_frame_that_was_owed_is_followed_by_its_sync_packet() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: (LAMP,), 2: (LAMP,)}, sync_universe=9), network), network)
    drive.send(slots(1, 1), 0.0)
    drive.until(2.0)
    network.fault = errno.ENETUNREACH
    drive.send(slots(2, 2), 2.5)
    drive.until(2.8)
    network.fault = None
    drive.until(2.85)
    kinds = [packet.kind for at, _, packet in drive.log if at > 2.5][:3]
    assert kinds == ["data", "data", "sync"]


def test_discovery_without_a_network_says_nothing_and_breaks_nothing() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: ()}), network), network)
    network.faults["239.255.250.214"] = errno.ENETUNREACH
    drive.send(slots(1), 0.0)
    drive.until(15.0)
    assert drive.packets(kind="discovery") == []
    network.faults.clear()
    drive.until(25.0)
    assert drive.times(kind="discovery") == pytest.approx([20.0])
