"""Which levels a receiver shows: ANSI E1.31-2018 §6.2, §6.7, §11, on a simulated clock."""

from __future__ import annotations

from itertools import count
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sacn.messages.data_packet import DataPacket as PackageDataPacket
from sacn.messages.sync_packet import SyncPacket as PackageSyncPacket
from sacn.messages.universe_discovery import UniverseDiscoveryPacket as PackageDiscoveryPacket

from onecrew.network.arbiter import LOSS_S, SOURCES_MAX, UNIVERSES_MAX, Arbiter, out_of_order
from onecrew.network.sacn_packets import data_header, discovery_packets, sync_packet
from onecrew.network.sacn_parse import DataPacket, DiscoveryPacket, Malformed, SyncPacket, parse
from tests.wire.e131_layout import Deviation
from tests.wire.e131_layout import parse as parse_by_the_table

OURS = UUID(int=1)
THEIRS = UUID(int=2)


def data(
    first: int,
    sequence: int,
    *,
    cid: UUID = OURS,
    universe: int = 1,
    priority: int = 100,
    sync_address: int = 0,
    options: int = 0,
    start_code: int = 0,
    at: int = 0,
) -> bytes:
    """A data packet with one slot up."""
    packet = data_header(cid, f"source {cid.int}", universe, priority=priority, sync_address=sync_address)
    packet[111], packet[112], packet[125] = sequence, options, start_code
    packet[126 + at] = first
    return bytes(packet)


def sync(sequence: int, address: int = 9, cid: UUID = OURS) -> bytes:
    packet = sync_packet(cid, address)
    packet[44] = sequence
    return bytes(packet)


def first_level(arbiter: Arbiter, now: float, universe: int = 1) -> int | None:
    levels = arbiter.levels(universe, now)
    return None if levels is None else levels[0]


# ── the sequence rule ───────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("newest", "number", "accepted"),
    [  # §6.7.2: discard if the signed 8-bit difference is ≤ 0 and > −20
        (100, 101, True),
        (100, 100, False),
        (100, 99, False),
        (100, 81, False),
        (100, 80, True),
        (0, 255, False),
        (255, 0, True),
        (5, 133, True),
    ],
)
def test_sequence_rule(newest: int, number: int, accepted: bool) -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, newest), 0.0)
    arbiter.take(data(2, number), 0.01)
    assert first_level(arbiter, 0.02) == (2 if accepted else 1)
    assert arbiter.out_of_order == (not accepted)


@given(st.integers(0, 255), st.integers(0, 255))
def test_sequence_rule_against_a_table(newest: int, number: int) -> None:
    """The 20 numbers up to the newest are refused, the 236 others taken."""
    refused = {(newest - back) % 256 for back in range(20)}
    assert out_of_order(newest, number) is (number in refused)


def test_sequences_are_judged_by_universe_source_and_kind() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 50), 0.0)
    arbiter.take(data(2, 45, universe=2), 0.0)
    arbiter.take(data(3, 45, cid=THEIRS), 0.0)
    arbiter.take(sync(45), 0.0)
    assert arbiter.out_of_order == 0


def test_after_a_loss_any_number_is_taken() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 50), 0.0)
    arbiter.take(data(2, 45), 2.6)
    assert first_level(arbiter, 2.6) == 2


def test_discarded_packets_do_not_keep_a_source_alive() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 50), 0.0)
    arbiter.take(data(2, 45), 2.0)
    assert first_level(arbiter, 2.6) is None


# ── loss, termination, preview, START code ──────────────────────────────────────────────────────────


def test_a_source_is_lost_after_2500_ms() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0), 10.0)
    assert first_level(arbiter, 12.5) == 1  # Appendix A: E131_NETWORK_DATA_LOSS_TIMEOUT
    assert first_level(arbiter, 12.51) is None
    assert arbiter.sources(12.51) == []


def test_a_terminated_source_is_gone_at_once_and_its_slots_are_not_shown() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0), 0.0)
    for number in (1, 2, 3):
        arbiter.take(data(99, number, options=0x40), 0.1)  # §6.2.6, bit 6
        assert first_level(arbiter, 0.1) is None
        assert arbiter.sources(0.1) == []


def test_preview_never_counts() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, cid=THEIRS), 0.0)
    arbiter.take(data(200, 0, priority=200, options=0x80), 0.0)  # §6.2.6, bit 7
    assert first_level(arbiter, 0.1) == 1
    assert [(source.preview, source.wins) for source in arbiter.sources(0.1)] == [
        (True, False),
        (False, True),
    ]


def test_a_source_that_turns_to_preview_keeps_its_levels_until_they_are_lost() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, priority=90), 0.0)
    arbiter.take(data(50, 0, cid=THEIRS, priority=95), 0.0)
    for frame in range(1, 40):
        arbiter.take(data(200, frame, options=0x80, priority=200), frame / 10)
        arbiter.take(data(50, frame, cid=THEIRS, priority=95), frame / 10)
        assert first_level(arbiter, frame / 10) == 50
    alone = Arbiter()
    alone.take(data(1, 0), 0.0)
    alone.take(data(200, 1, options=0x80), 1.0)
    assert first_level(alone, 2.4) == 1
    assert first_level(alone, 2.6) is None
    assert len(alone.sources(2.6)) == 1
    alone.take(data(99, 2, start_code=0xDD), 2.7)
    assert first_level(alone, 2.7) is None


def test_only_start_code_0_is_levels() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0), 0.0)
    arbiter.take(data(99, 1, start_code=0xDD), 0.01)
    assert first_level(arbiter, 0.02) == 1
    other = Arbiter()
    other.take(data(99, 0, start_code=0xDD), 0.0)
    assert first_level(other, 0.0) is None
    assert len(other.sources(0.0)) == 1


def test_fewer_slots_leave_the_rest_dark() -> None:
    arbiter = Arbiter()
    short = bytearray(data(7, 0)[: 126 + 24])
    for at in (16, 38, 115):
        short[at : at + 2] = (0x7000 | (len(short) - at)).to_bytes(2, "big")
    short[123:125] = (25).to_bytes(2, "big")
    assert len(parse_by_the_table(bytes(short)).slots) == 24
    arbiter.take(bytes(short), 0.0)
    assert arbiter.levels(1, 0.0) == b"\x07" + bytes(511)


# ── priority ────────────────────────────────────────────────────────────────────────────────────────


def test_the_highest_priority_wins_and_gives_way_when_it_is_lost() -> None:
    arbiter = Arbiter()
    arbiter.take(data(200, 0, priority=99), 0.0)
    arbiter.take(data(10, 0, cid=THEIRS, priority=100), 1.0)
    assert first_level(arbiter, 1.0) == 10  # §6.2.3
    arbiter.take(data(201, 1, priority=99), 2.0)
    assert first_level(arbiter, 3.4) == 10
    assert first_level(arbiter, 3.6) == 201


def test_equal_priorities_are_merged_by_the_highest_level_of_each_slot() -> None:
    arbiter = Arbiter()
    arbiter.take(data(200, 0), 0.0)
    arbiter.take(data(50, 0, cid=THEIRS, at=1), 0.0)
    assert arbiter.levels(1, 0.1) == bytes([200, 50]) + bytes(510)
    assert [source.wins for source in arbiter.sources(0.1)] == [True, True]


def test_universes_are_judged_apart() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, universe=1, priority=1), 0.0)
    arbiter.take(data(2, 0, universe=2, priority=200, cid=THEIRS), 0.0)
    assert (first_level(arbiter, 0.0, 1), first_level(arbiter, 0.0, 2)) == (1, 2)
    assert arbiter.universes(0.0) == (1, 2)


# ── synchronisation ─────────────────────────────────────────────────────────────────────────────────


def test_synchronised_data_is_shown_at_once_until_the_first_sync_packet() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9), 0.0)
    assert first_level(arbiter, 0.0) == 1  # §6.2.4.1


def test_synchronised_data_waits_for_its_sync_packet() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9), 0.0)
    arbiter.take(sync(0), 0.0)
    arbiter.take(data(2, 1, sync_address=9), 0.02)
    arbiter.take(data(3, 0, sync_address=9, universe=2), 0.02)
    assert (first_level(arbiter, 0.03), first_level(arbiter, 0.03, 2)) == (1, None)
    arbiter.take(sync(1, address=8), 0.03)
    arbiter.take(sync(1, cid=THEIRS), 0.03)
    assert first_level(arbiter, 0.03) == 1
    arbiter.take(sync(1), 0.04)
    assert (first_level(arbiter, 0.04), first_level(arbiter, 0.04, 2)) == (2, 3)


@pytest.mark.parametrize(("options", "shown"), [(0x20, 5), (0x00, 1)])
def test_when_sync_is_lost_force_synchronization_decides(options: int, shown: int) -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9, options=options), 0.0)
    arbiter.take(sync(0), 0.0)
    numbers = count(1)
    for tenth in range(1, 30):
        arbiter.take(data(5, next(numbers), sync_address=9, options=options), tenth / 10)
    assert first_level(arbiter, 2.9) == shown  # §6.2.6 bit 5; §11.1: 2.5 s without a sync packet


def test_force_synchronization_does_not_show_data_while_sync_packets_come() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9, options=0x20), 0.0)
    arbiter.take(sync(0), 0.0)
    arbiter.take(data(5, 1, sync_address=9, options=0x20), 0.1)
    assert first_level(arbiter, 0.1) == 1  # §6.2.6 bit 5 speaks of lost synchronisation alone
    arbiter.take(sync(1), 0.1)
    assert first_level(arbiter, 0.1) == 5


def test_after_a_loss_a_sync_packet_of_any_number_is_taken() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9), 0.0)
    arbiter.take(sync(100), 0.0)
    for tenth in range(1, 31):
        arbiter.take(data(5, tenth, sync_address=9), tenth / 10)
    arbiter.take(sync(95), 3.0)  # its sender has started anew: numbers count by §6.7.2 until it is lost
    assert first_level(arbiter, 3.0) == 5


def test_a_source_that_comes_back_is_not_held_by_the_sync_packets_of_its_earlier_life() -> None:
    arbiter = Arbiter()
    arbiter.take(data(1, 0, sync_address=9), 0.0)
    arbiter.take(sync(0), 0.0)
    arbiter.take(data(5, 1, sync_address=9), 10.0)
    assert first_level(arbiter, 10.0) == 5


def test_data_without_a_sync_address_is_never_held() -> None:
    arbiter = Arbiter()
    arbiter.take(sync(0), 0.0)
    arbiter.take(data(4, 0), 0.0)
    assert first_level(arbiter, 0.0) == 4


# ── who is there ────────────────────────────────────────────────────────────────────────────────────


def test_sources_are_told_with_all_that_identifies_them() -> None:
    arbiter = Arbiter()
    for frame in range(45):
        arbiter.take(data(1, frame, priority=120), frame / 44, "192.0.2.9")
    (source,) = arbiter.sources(1.5)
    assert (source.universe, source.name, source.cid, source.host) == (1, "source 1", OURS, "192.0.2.9")
    assert (source.priority, source.preview, source.synchronised, source.wins) == (120, False, False, True)
    assert source.rate == pytest.approx(44.0)
    assert source.last_seen_s == pytest.approx(0.5)


def test_what_sources_announce() -> None:
    arbiter = Arbiter()
    for packet in discovery_packets(OURS, "bakery", range(1, 601)):
        arbiter.take(packet, 0.0, "192.0.2.9")
    (said,) = arbiter.announced(19.9)
    assert (said.name, said.cid, said.host) == ("bakery", OURS, "192.0.2.9")
    assert said.universes == tuple(range(1, 601))
    assert arbiter.announced(20.1) == []  # §12: two intervals of 10 s
    arbiter.take(discovery_packets(OURS, "bakery", [5])[0], 21.0)
    assert arbiter.announced(21.0)[0].universes == (5,)


def test_only_the_universes_asked_for_are_kept() -> None:
    arbiter = Arbiter([2])
    arbiter.take(data(1, 0, universe=1), 0.0)
    arbiter.take(data(1, 0, universe=2), 0.0)
    assert arbiter.universes(0.0) == (2,)


# ── floods and rubbish ──────────────────────────────────────────────────────────────────────────────


def test_a_flood_of_sources_is_bounded_and_passes() -> None:
    arbiter = Arbiter()
    for number in range(SOURCES_MAX + 50):
        arbiter.take(data(1, 0, cid=UUID(int=number + 1)), 0.0)
    assert len(arbiter.sources(0.0)) == SOURCES_MAX
    assert arbiter.crowded_out == 50
    arbiter.take(data(7, 0, cid=UUID(int=9999)), LOSS_S + 0.1)
    assert first_level(arbiter, LOSS_S + 0.1) == 7


def test_a_flood_of_universes_is_bounded_and_passes() -> None:
    arbiter = Arbiter()
    packet = bytearray(data(1, 0))
    for number in range(1, UNIVERSES_MAX + 51):
        packet[113:115] = number.to_bytes(2, "big")
        arbiter.take(bytes(packet), 0.0)
    assert len(arbiter.universes(0.0)) == UNIVERSES_MAX
    assert arbiter.crowded_out == 50
    packet[113:115] = (60000).to_bytes(2, "big")
    arbiter.take(bytes(packet), LOSS_S + 0.1)
    assert arbiter.universes(LOSS_S + 0.1) == (60000,)


def test_floods_of_sync_and_discovery_packets_are_bounded() -> None:
    arbiter = Arbiter()
    for number in range(1, SOURCES_MAX + 11):
        arbiter.take(sync(0, address=number), 0.0)
        arbiter.take(discovery_packets(UUID(int=number), "x", [1])[0], 0.0)
    assert arbiter.crowded_out == 20
    assert len(arbiter.announced(0.0)) == SOURCES_MAX


@given(st.binary(max_size=700))
@settings(max_examples=200)
def test_random_octets_never_break_it(octets: bytes) -> None:
    arbiter = Arbiter()
    arbiter.take(octets, 0.0)
    assert arbiter.bad == 1


GOOD = (data(9, 3, sync_address=9), sync(4), discovery_packets(OURS, "bakery", range(1, 30))[0])


@given(
    st.sampled_from(GOOD),
    st.lists(st.tuples(st.integers(0, 637), st.integers(0, 255)), max_size=6),
    st.integers(0, 640),
    st.binary(max_size=4),
)
@settings(max_examples=400)
def test_mutated_packets_never_break_it(
    packet: bytes, changes: list[tuple[int, int]], size: int, tail: bytes
) -> None:
    octets = bytearray(packet)
    for at, value in changes:
        if at < len(octets):
            octets[at] = value
    arbiter = Arbiter()
    for sequence in (0, 1):
        arbiter.take(bytes(octets[:size]) + tail, float(sequence))
    arbiter.sources(1.0)
    arbiter.announced(1.0)
    for universe in arbiter.universes(1.0):
        assert len(arbiter.levels(universe, 1.0) or bytes(512)) == 512


@given(
    st.sampled_from(GOOD),
    st.lists(st.tuples(st.integers(0, 140), st.integers(0, 255)), min_size=1, max_size=2),
)
@settings(max_examples=300)
def test_what_the_table_allows_is_read_and_only_leniency_differs(
    packet: bytes, changes: list[tuple[int, int]]
) -> None:
    """Whatever the independent reading of the table takes, ours takes too, with the same content."""
    octets = bytearray(packet)
    for at, value in changes:
        if at < len(octets):
            octets[at] = value
    try:
        table = parse_by_the_table(bytes(octets))
    except Deviation:
        return
    read = parse(bytes(octets))
    if isinstance(read, DataPacket):
        assert (table.kind, table.universe, table.priority) == ("data", read.universe, read.priority)
        assert (table.sequence, table.slots, table.start_code) == (read.sequence, read.slots, read.start_code)
    elif isinstance(read, SyncPacket):
        assert (table.kind, table.sync_address) == ("sync", read.sync_address)
    else:
        assert (table.kind, table.universes) == ("discovery", read.universes)


def test_options_and_reserved_octets_to_ignore_are_ignored() -> None:
    packet = bytearray(data(9, 3, options=0x1F))  # §6.2.6: bits 4–0 are ignored by receivers
    assert isinstance(parse(bytes(packet)), DataPacket)
    reserved = bytearray(sync(4))
    reserved[47:49] = b"\xff\xff"  # §6.3.4
    assert isinstance(parse(bytes(reserved)), SyncPacket)


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (0, 1),  # preamble size, §5.1
        (4, 0),  # ACN packet identifier, §5.3
        (16, 0x62),  # root flags, §5.4
        (16, 0x70),  # root length
        (18, 1),  # root vector, §5.5
        (38, 0x62),  # framing flags, §6.1
        (40, 9),  # framing vector, §6.2.1
        (108, 201),  # priority, §6.2.3
        (113, 0xFA),  # universe, §6.2.7
        (115, 0x62),  # DMP flags, §7.1
        (117, 1),  # DMP vector, §7.2
        (118, 0),  # address and data type, §7.3
        (123, 9),  # property value count, §7.6
    ],
)
def test_what_is_malformed(at: int, value: int) -> None:
    packet = bytearray(data(9, 3))
    packet[at] = value
    with pytest.raises(Malformed):
        parse(bytes(packet))


def test_names_are_cut_at_the_null_and_never_a_fault() -> None:
    packet = bytearray(data(9, 3))
    packet[44:52] = b"oven\0\xff\xfe!"
    read = parse(bytes(packet))
    assert isinstance(read, DataPacket)
    assert read.source_name == "oven"
    packet[44:52] = b"ov\x1b\xff\0\0\0\0"
    read = parse(bytes(packet))
    assert isinstance(read, DataPacket)
    assert read.source_name == "ov��"


# ── against the sacn package ────────────────────────────────────────────────────────────────────────


@given(
    universe=st.integers(1, 63999),
    priority=st.integers(0, 200),
    sequence=st.integers(0, 255),
    flags=st.tuples(st.booleans(), st.booleans(), st.booleans()),
    slots=st.binary(min_size=512, max_size=512),
)
@settings(max_examples=50)
def test_data_packets_of_the_sacn_package_are_read(
    universe: int, priority: int, sequence: int, flags: tuple[bool, bool, bool], slots: bytes
) -> None:
    """Packets built by sacn 1.11, a general-purpose library."""
    built = PackageDataPacket(
        tuple(OURS.bytes), "oven", universe, tuple(slots), priority, sequence, *flags, sync_universe=3
    )
    read = parse(bytes(built.getBytes()))
    assert read == DataPacket(
        OURS.bytes, "oven", universe, priority, 3, sequence, flags[1], flags[0], flags[2], 0, slots
    )


def test_other_packets_of_the_sacn_package_are_read() -> None:
    cid = tuple(OURS.bytes)
    assert parse(bytes(PackageSyncPacket(cid, 500, 7).getBytes())) == SyncPacket(OURS.bytes, 500, 7)
    built = PackageDiscoveryPacket(cid, "oven", (1, 2, 300), 0, 1)
    assert parse(bytes(built.getBytes())) == DiscoveryPacket(OURS.bytes, "oven", 0, 1, (1, 2, 300))
