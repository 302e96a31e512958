"""The receiver's choice that the standby is judged by, against cases worked by hand, and against our own."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.network.arbiter import Arbiter
from onecrew.network.sacn_packets import data_header
from tests.wire.arbiter import shown
from tests.wire.e131_layout import Packet, parse

MAIN, OTHER = uuid.UUID(int=1), uuid.UUID(int=2)


def packet(cid: uuid.UUID, priority: int, sequence: int, level: int, terminated: bool = False) -> bytes:
    octets = data_header(cid, "source", 1, priority=priority)
    octets[111] = sequence
    octets[112] = 0x40 if terminated else 0
    octets[126] = level
    return bytes(octets)


def heard(*events: tuple[float, bytes]) -> list[tuple[float, Packet]]:
    return [(at, parse(octets)) for at, octets in events]


def levels(*events: tuple[float, bytes]) -> list[tuple[float, int | None]]:
    return [(s.at, None if s.packet is None else s.packet.slots[0]) for s in shown(heard(*events))]


def test_the_higher_priority_counts_whichever_comes_first() -> None:
    low, high = packet(OTHER, 90, 0, 10), packet(MAIN, 100, 0, 20)
    assert levels((0.0, low), (0.1, high)) == [(0.0, 10), (0.1, 20)]
    assert levels((0.0, high), (0.1, low)) == [(0.0, 20)]


def test_a_source_that_falls_silent_is_followed_by_the_next_after_two_and_a_half_seconds() -> None:
    events = [(0.0, packet(MAIN, 100, 0, 20)), (0.1, packet(OTHER, 90, 0, 10))]
    events += [(2.4, packet(OTHER, 90, 1, 11)), (2.6, packet(OTHER, 90, 2, 12))]
    assert levels(*events) == [(0.0, 20), (2.5, 11), (2.6, 12)]


def test_the_main_source_counts_again_with_its_first_packet() -> None:
    events = [
        (0.0, packet(MAIN, 100, 0, 20)),
        (3.0, packet(OTHER, 90, 0, 10)),
        (3.1, packet(MAIN, 100, 128, 21)),
    ]
    assert levels(*events) == [(0.0, 20), (2.5, None), (3.0, 10), (3.1, 21)]


def test_a_terminated_source_is_gone_at_once() -> None:
    events = [(0.0, packet(OTHER, 90, 0, 10)), (0.1, packet(MAIN, 100, 0, 20))]
    events += [(0.2, packet(MAIN, 100, 1, 99, terminated=True))]
    assert levels(*events) == [(0.0, 10), (0.1, 20), (0.2, 10)]


def test_a_source_that_lowers_its_priority_gives_way_to_the_other() -> None:
    events = [(0.0, packet(OTHER, 110, 0, 10)), (0.1, packet(MAIN, 100, 0, 20))]
    events += [(0.2, packet(OTHER, 90, 1, 11))]
    assert levels(*events) == [(0.0, 10), (0.2, 20)]


def test_late_packets_are_dropped() -> None:
    assert levels((0.0, packet(MAIN, 100, 5, 1)), (0.1, packet(MAIN, 100, 4, 2))) == [(0.0, 1)]


EVENT = st.tuples(
    st.sampled_from([(MAIN, 100), (OTHER, 90)]),
    st.floats(min_value=0.01, max_value=1.6),
    st.integers(min_value=1, max_value=255),
)


@settings(max_examples=60)
@given(st.lists(EVENT, min_size=1, max_size=30))
def test_it_agrees_with_the_receiver_of_onecrew(
    events: list[tuple[tuple[uuid.UUID, int], float, int]],
) -> None:
    now, sequences, arbiter = 0.0, {MAIN: 0, OTHER: 0}, Arbiter()
    arrived = []
    for (cid, priority), wait, level in events:
        now += wait
        sequences[cid] = (sequences[cid] + 1) % 256
        octets = packet(cid, priority, sequences[cid], level)
        arrived.append((now, octets))
        arbiter.take(octets, now)
        ours = arbiter.levels(1, now)
        last = shown(heard(*arrived))[-1].packet
        assert ours is not None and last is not None
        assert ours[0] == last.slots[0]


def test_only_levels_of_the_universe_count() -> None:
    other = bytearray(packet(MAIN, 100, 0, 20))
    other[114] = 2
    assert levels((0.0, bytes(other))) == []


def test_the_octets_of_these_tests_are_those_of_the_standard() -> None:
    assert parse(packet(MAIN, 90, 7, 200)).priority == 90
    with pytest.raises(ValueError):
        parse(packet(MAIN, 90, 7, 200)[:100])
