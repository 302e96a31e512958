"""The octets of E1.31 packets against the standard's tables.

Test vectors: ANSI E1.31-2018, clauses 5 to 8 and Appendix B, as laid out by an independent parser
(``e131_layout``); the three hexadecimal strings were dissected by tshark 4.0.
"""

from __future__ import annotations

from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.network.sacn_packets import (
    data_header,
    discovery_packets,
    fit_source_name,
    multicast_address,
    sync_packet,
    terminated,
)
from tests.wire.e131_layout import Deviation, parse

CID = UUID(bytes=bytes(range(16)))


def test_data_packet_is_the_golden_one() -> None:
    packet = data_header(CID, "Set lights", 7, priority=100, sync_address=7)
    packet[111] = 5
    packet[126:128] = bytes([255, 128])
    assert len(packet) == 638
    assert packet[:22] == bytes.fromhex("00100000 4153432d45312e3137000000 726e 00000004")
    assert packet[22:38] == bytes(range(16))
    assert packet[38:44] == bytes.fromhex("7258 00000002")
    assert packet[44:108] == b"Set lights".ljust(64, b"\0")
    assert packet[108:129] == bytes.fromhex("64 00 07 05 00 00 07 72 0b 02 a1 00 00 00 01 02 01 00 ff 80 00")
    assert packet[129:] == bytes(509)


def test_sync_packet_is_the_golden_one() -> None:
    packet = sync_packet(CID, 7)
    packet[44] = 9
    assert len(packet) == 49
    assert packet[16:22] == bytes.fromhex("7021 00000008")
    assert packet[38:] == bytes.fromhex("70 0b 00 00 00 01 09 00 07 00 00")


def test_discovery_packet_is_the_golden_one() -> None:
    (packet,) = discovery_packets(CID, "Set lights", [7, 1, 2])
    assert len(packet) == 126
    assert packet[16:22] == bytes.fromhex("706e 00000008")
    assert packet[38:44] == bytes.fromhex("7058 00000002")
    assert packet[112:] == bytes.fromhex("70 0e 00 00 00 01 00 00 00 01 00 02 00 07")


@given(
    name=st.text(max_size=80),
    universe=st.integers(1, 63999),
    priority=st.integers(0, 200),
    sync_address=st.integers(0, 63999),
    force=st.booleans(),
)
def test_every_data_packet_keeps_to_the_table(
    name: str, universe: int, priority: int, sync_address: int, force: bool
) -> None:
    packet = parse(
        bytes(
            data_header(CID, name, universe, priority=priority, sync_address=sync_address, force_sync=force)
        )
    )
    assert packet.cid == CID.bytes
    assert packet.source_name == fit_source_name(name)
    assert (packet.universe, packet.priority, packet.sync_address) == (universe, priority, sync_address)
    assert (packet.preview, packet.terminated, packet.force_sync) == (False, False, force)
    assert (packet.start_code, packet.slots) == (0, bytes(512))


def test_terminated_sets_bit_6_and_nothing_else() -> None:
    packet = data_header(CID, "oven", 1, sync_address=9, force_sync=True)
    before = bytes(packet)
    terminated(packet)
    assert packet[112] == 0x60
    assert packet[:112] + packet[113:] == before[:112] + before[113:]


@pytest.mark.parametrize(
    ("universe", "priority", "sync"), [(0, 100, 0), (64000, 100, 0), (1, 201, 0), (1, 100, 64000)]
)
def test_data_header_refuses_what_the_standard_does_not_know(universe: int, priority: int, sync: int) -> None:
    with pytest.raises(ValueError, match="must be"):
        data_header(CID, "tone", universe, priority=priority, sync_address=sync)


@given(st.sets(st.integers(1, 63999), max_size=1200))
def test_discovery_pages_hold_every_universe_once(universes: set[int]) -> None:
    packets = [parse(packet) for packet in discovery_packets(CID, "bakery", universes)]
    assert [packet.page for packet in packets] == list(range(len(packets)))
    assert {packet.last_page for packet in packets} == {len(packets) - 1}
    assert [universe for packet in packets for universe in packet.universes] == sorted(universes)
    assert all(len(packet.universes) == 512 for packet in packets[:-1])


def test_a_source_without_universes_says_so_on_one_page() -> None:
    (packet,) = discovery_packets(CID, "bakery", [])
    assert parse(packet).universes == ()


@pytest.mark.parametrize("universe", [0, 64000, 64214])
def test_discovery_lists_only_universes_that_exist(universe: int) -> None:
    with pytest.raises(ValueError, match="1 to 63999"):
        discovery_packets(CID, "bakery", [1, universe])


def test_discovery_leaves_the_callers_list_alone() -> None:
    universes = [3, 1, 2]
    discovery_packets(CID, "bakery", universes)
    assert universes == [3, 1, 2]


@pytest.mark.parametrize(
    ("universe", "group"),  # E1.31-2018 §9.3.1; Appendix A for 64214
    [
        (1, "239.255.0.1"),
        (255, "239.255.0.255"),
        (256, "239.255.1.0"),
        (63999, "239.255.249.255"),
        (64214, "239.255.250.214"),
    ],
)
def test_multicast_groups(universe: int, group: str) -> None:
    assert multicast_address(universe) == group


@pytest.mark.parametrize("universe", [-1, 0, 64000, 64213, 64215, 65280, 65535, 65536])
def test_no_group_for_reserved_universes(universe: int) -> None:
    with pytest.raises(ValueError, match="no multicast address"):
        multicast_address(universe)


@pytest.mark.parametrize(
    ("name", "fitted"),
    [
        ("The Night Baker", "The Night Baker"),
        ("x" * 70, "x" * 63),
        ("é" * 40, "é" * 31),  # 2 octets each: 62 fit, the 63rd would be half a character
        ("🥖" * 20, "🥖" * 15),  # 4 octets each
        ("a\0b\nc", "a b c"),
        ("oven \ud800", "oven"),  # half a surrogate pair is no character
        ("", ""),
    ],
)
def test_source_names_fit(name: str, fitted: str) -> None:
    assert fit_source_name(name) == fitted


def test_the_layout_check_itself_refuses_every_fixed_field_gone_wrong() -> None:
    """Flipping any octet that the tables fix must be noticed; those that carry values may take any."""
    packet = bytes(data_header(CID, "van", 300))
    free = {*range(22, 38), *range(44, 109), 109, 110, 111, 112, 113, 114, 125, *range(126, 638)}
    for at in range(len(packet)):
        wrong = packet[:at] + bytes([packet[at] ^ 0x01]) + packet[at + 1 :]
        if at not in free:
            with pytest.raises(Deviation):
                parse(wrong)
    for size in (0, 48, 125, 637):
        with pytest.raises(Deviation):
            parse(packet[:size])
    with pytest.raises(Deviation):
        parse(packet + b"\0")
