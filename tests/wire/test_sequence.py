"""Sequence numbers across universes and restarts: ANSI E1.31-2018 §6.7.2."""

from __future__ import annotations

import pytest

from onecrew.network.sacn_output import SYNC_KEY, SacnOutput
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import CID, FRAME_S, LAMP, OTHER_LAMP, Drive, output, receiver_accepts, sacn, slots


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
