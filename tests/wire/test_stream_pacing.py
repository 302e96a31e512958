"""When an E1.31 stream sends: ANSI E1.31-2018 §6.6, on a simulated clock."""

from __future__ import annotations

from itertools import cycle, pairwise
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.network.pacing import PLAIN, STEADY, WIFI, Repeat
from onecrew.network.sacn_stream import SacnStream
from tests.wire.e131_layout import Packet, parse

CID = UUID(bytes=bytes(range(16)))
FRAME_S = 1 / 44  # §6.6.1: E1.11's maximum for 512 slots is 44.1 Hz (22 676 µs)
DARK = bytes(512)
LIT = bytes([200]) + bytes(511)


def stream(**settings: int | Repeat) -> SacnStream:
    return SacnStream(1, CID, "oven", **settings)  # type: ignore[arg-type]


def run(sender: SacnStream, start: float, until: float) -> list[tuple[float, Packet]]:
    """Calls the stream whenever it asks for it, as the engine does."""
    sent = []
    now = start
    while (now := sender.next_due(now)) <= until:
        sent += [(now, parse(bytes(packet))) for packet in sender.due(now)]
    return sent


def test_nothing_leaves_before_there_are_slots() -> None:
    sender = stream()
    assert sender.next_due(0.0) == float("inf")
    assert list(sender.due(0.0)) == []


@pytest.mark.parametrize("slots", [DARK, LIT])
def test_the_first_slots_leave_at_once_dark_or_lit(slots: bytes) -> None:
    sender = stream()
    (packet,) = sender.due(5.0, slots)
    assert parse(bytes(packet)).slots == slots


def test_three_repeats_then_a_keep_alive_every_800_to_1000_ms() -> None:
    sender = stream()
    sender.want(LIT)
    times = [at for at, _ in run(sender, 0.0, 6.0)]
    gaps = [after - before for before, after in pairwise(times)]
    assert gaps[:3] == pytest.approx([FRAME_S] * 3)  # §6.6.2: three packets of unchanged data
    assert len(gaps) > 8
    assert all(0.8 <= gap <= 1.0 for gap in gaps[3:])


def test_a_keep_alive_differs_by_its_sequence_alone() -> None:
    sender = stream()
    sender.want(LIT)
    packets = [bytes(sender.due(at)[0]) for at in (0.0, 0.1, 0.2, 0.3, 1.25, 2.2)]
    assert [packet[111] for packet in packets] == [0, 1, 2, 3, 4, 5]
    assert len({packet[:111] + packet[112:] for packet in packets}) == 1


def test_a_change_after_rest_leaves_at_once() -> None:
    sender = stream()
    sender.want(DARK)
    run(sender, 0.0, 2.0)
    (packet,) = sender.due(2.0345, LIT)
    assert parse(bytes(packet)).slots == LIT


def test_a_change_too_soon_waits_for_its_moment_and_brings_the_newest_slots() -> None:
    sender = stream()
    sender.due(0.0, DARK)
    assert list(sender.due(0.005, LIT)) == []
    assert sender.next_due(0.005) == pytest.approx(FRAME_S)
    newer = bytes([7]) * 512
    assert list(sender.due(0.010, newer)) == []
    (packet,) = sender.due(sender.next_due(0.010))
    assert parse(bytes(packet)).slots == newer


def test_a_change_taken_back_in_time_leaves_no_trace() -> None:
    sender = stream()
    sender.want(DARK)
    run(sender, 0.0, 1.5)
    before = sender.sequence
    (_,) = sender.due(2.0, LIT)
    sender.due(2.005, DARK)
    sender.due(2.010, LIT)
    sent = run(sender, 2.010, 2.5)
    assert [packet.slots for _, packet in sent] == [LIT] * 3
    assert sender.sequence == before + 4


def test_repeats_start_anew_with_every_change() -> None:
    sender = stream()
    sender.due(0.0, DARK)
    sender.due(0.1)
    sender.due(0.2, LIT)
    assert [packet.slots for _, packet in run(sender, 0.2, 1.0)] == [LIT] * 3


def test_steady_keeps_the_full_rate() -> None:
    sender = stream(repeat=STEADY)
    sender.want(LIT)
    gaps = [b - a for (a, _), (b, _) in pairwise(run(sender, 0.0, 3.0))]
    assert len(gaps) > 120
    assert gaps == pytest.approx([FRAME_S] * len(gaps))


def test_wifi_repeats_a_change_for_half_a_second_and_then_ten_times_a_second() -> None:
    sender = stream(repeat=WIFI)
    sender.want(LIT)
    gaps = [b - a for (a, _), (b, _) in pairwise(run(sender, 0.0, 3.0))]
    assert gaps[:22] == pytest.approx([FRAME_S] * 22)
    assert gaps[22:] == pytest.approx([0.1] * len(gaps[22:]))


def test_a_stream_at_rest_takes_on_another_way_of_repeating_at_once() -> None:
    sender = stream()
    sender.want(LIT)
    run(sender, 0.0, 2.0)
    sender.retitle("oven", repeat=STEADY)
    assert len(run(sender, 2.0, 3.0)) > 40
    sender.retitle("oven")
    assert len(run(sender, 3.0, 4.0)) <= 5


def test_a_new_header_leaves_as_a_change_does() -> None:
    sender = stream()
    sender.want(LIT)
    run(sender, 0.0, 2.0)
    sender.retitle("oven", priority=150)
    sent = run(sender, 2.1, 2.5)
    assert sent[0][0] == 2.1
    assert [packet.priority for _, packet in sent] == [150] * 4
    assert {packet.slots for _, packet in sent} == {LIT}
    sender.retitle("oven", priority=150)
    assert not sender.changed


def test_a_synchronised_stream_lets_receivers_go_on_when_sync_is_lost() -> None:
    sender = stream(sync_address=7)
    packet = parse(bytes(sender.due(0.0, LIT)[0]))
    assert packet.sync_address == 7
    assert packet.force_sync  # §6.2.6: bit 5 set, receivers need not wait once synchronisation is lost


def test_termination_is_three_packets_a_frame_apart() -> None:
    sender = stream()
    sender.want(LIT)
    running = run(sender, 0.0, 2.0)
    assert not any(packet.terminated for _, packet in running)
    sender.terminate()
    ending = run(sender, 2.0, 60.0)
    assert [packet.terminated for _, packet in ending] == [True] * 3  # §6.2.6, §12.2
    numbers = [packet.sequence for _, packet in running[-1:] + ending]
    assert [(b - a) % 256 for a, b in pairwise(numbers)] == [1, 1, 1]
    assert [b - a for (a, _), (b, _) in pairwise(ending)] == pytest.approx([FRAME_S] * 2)
    assert sender.ended
    assert sender.next_due(60.0) == float("inf")
    assert list(sender.due(60.0, DARK)) == []


def test_a_stream_that_never_began_ends_in_silence() -> None:
    sender = stream()
    sender.terminate()
    assert sender.ended
    assert list(sender.due(0.0, LIT)) == []


def test_sequence_numbers_wrap() -> None:
    sender = stream(first_sequence=250, repeat=STEADY)
    sender.want(LIT)
    numbers = [packet.sequence for _, packet in run(sender, 0.0, 1.0)]
    assert numbers[:8] == [250, 251, 252, 253, 254, 255, 0, 1]


def test_a_stream_wants_512_slots() -> None:
    with pytest.raises(ValueError, match="512"):
        stream().want(bytes(24))


changes = st.lists(
    st.tuples(st.floats(0.0, 0.2), st.integers(0, 3)),
    max_size=60,
)


@given(changes, st.sampled_from((PLAIN, WIFI, STEADY)))
def test_law_of_pacing(steps: list[tuple[float, int]], repeat: Repeat) -> None:
    """Whatever changes when: never above 44 Hz, never silent for a second, the last word arrives."""
    sender = stream(repeat=repeat)
    sent: list[tuple[float, int]] = []
    now, newest = 0.0, 0
    for pause, value in [(0.0, 0), *steps, (3.0, steps[-1][1] if steps else 0)]:
        until = now + pause
        while (due := sender.next_due(now)) < until:
            now = due
            sent += [(now, packet[126]) for packet in sender.due(now)]
        now, newest = until, value
        sent += [(now, packet[126]) for packet in sender.due(now, bytes([value]) * 512)]
    times = [at for at, _ in sent]
    tolerance = 1e-6  # rounding of the clock
    for first in range(len(times)):
        for span in range(1, min(45, len(times) - first)):
            assert times[first + span] - times[first] >= span * FRAME_S - tolerance
    assert all(b - a <= 1.0 for a, b in pairwise(times))
    assert sent[-1][1] == newest
    last_change = max(
        (i for i, (_, value) in enumerate(sent) if i == 0 or value != sent[i - 1][1]), default=0
    )
    assert all(b - a <= FRAME_S + tolerance for a, b in pairwise(times[last_change : last_change + 4]))


@given(
    st.lists(st.floats(0.0, 0.3), min_size=2, max_size=40),
    st.lists(st.tuples(st.booleans(), st.floats(0.0, 0.4)), min_size=1, max_size=20),
    st.sampled_from((PLAIN, WIFI, STEADY)),
)
def test_law_light_that_rises_never_falls_at_a_receiver(
    pauses: list[float], fates: list[tuple[bool, float]], repeat: Repeat
) -> None:
    """Whatever is lost, late or overtaken on the way: 0.4 s is less than the 20 packets that a receiver looks
    back (E1.31-2018 §6.7.2)."""
    sender = stream(repeat=repeat)
    sent: list[tuple[float, bytes]] = []
    now = 0.0
    for level, pause in enumerate(pauses, start=1):
        sent += [(now, bytes(packet)) for packet in sender.due(now, bytes([level]) * 512)]
        until = now + pause
        while (due := sender.next_due(now)) < until:
            now = due
            sent += [(now, bytes(packet)) for packet in sender.due(now)]
        now = until
    arrivals = []
    for (at, packet), (lost, delay) in zip(sent, cycle(fates), strict=False):
        if not lost:
            arrivals.append((at + delay, packet[111], packet[126]))
    shown, newest = 0, None
    for _, number, level in sorted(arrivals):
        if newest is None or not -20 < (number - newest + 128) % 256 - 128 <= 0:
            assert level >= shown
            shown, newest = level, number


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.03))
def test_a_change_never_waits_longer_than_a_frame(at: float, later: float) -> None:
    sender = stream()
    sender.want(DARK)
    run(sender, 0.0, at)
    asked = at + later
    moment = asked
    packets = list(sender.due(asked, LIT))
    while not packets or packets[0][126] != 200:
        moment = sender.next_due(moment)
        packets = list(sender.due(moment))
    assert moment - asked <= FRAME_S


def test_a_repeat_does_not_get_in_the_way_of_a_change_that_is_expected() -> None:
    """Frames of a fade that come a little slower than 44 Hz would else wait behind a repeat, each of them."""
    sender = stream()
    sender.due(0.0, LIT)
    sender.expect(0.047)
    assert sender.next_due(0.0) == 0.047
    assert list(sender.due(FRAME_S + 0.0005)) == []
    assert len(sender.due(FRAME_S + 0.0006, DARK)) == 1  # the change itself waits for nothing


def test_what_was_expected_and_never_came_holds_nothing_back_for_long() -> None:
    sender = stream()
    sender.due(0.0, LIT)
    sender.expect(60.0)
    times = [0.0] + [at for at, _ in run(sender, 0.0, 5.0)]
    assert all(after - before <= 1.0 for before, after in pairwise(times))  # §6.6.2


@given(st.floats(min_value=-1.0, max_value=3.0))
def test_no_expectation_breaks_the_limit_or_the_keep_alive(expected: float) -> None:
    sender = stream()
    sender.due(0.0, LIT)
    sender.expect(expected)
    times = [0.0] + [at for at, _ in run(sender, 0.0, 5.0)]
    assert len(times) > 5
    assert all(FRAME_S - 1e-6 <= after - before <= 1.0 for before, after in pairwise(times))
