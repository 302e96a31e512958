"""Who is sent what by OSC, and when; time is handed in."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.errors import Mistake
from onecrew.osc.packets import read_packet
from onecrew.osc.reports import DATAGRAM_BYTES, RECEIVERS, Reports

PHONE, TABLET = ("127.0.0.1", 9100), ("127.0.0.1", 9200)
STATE: dict[str, tuple[Any, ...]] = {
    "/onecrew/state/cue": ("1", "Before dawn"),
    "/onecrew/state/light/tone/level": (0.02,),
}


def told(reports: Reports, state: dict[str, tuple[Any, ...]], now: float) -> dict[int, list[str]]:
    """The addresses of state that went out, by port."""
    heard: dict[int, list[str]] = {}
    for datagram, (_, port) in reports.news(state, now):
        for timed in read_packet(datagram):
            heard.setdefault(port, []).extend(message.address for message in timed.messages)
    return heard


def test_all_of_it_first_then_what_changed() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 10.0, 60.0)
    assert told(reports, STATE, 0.0) == {9100: list(STATE)}
    assert told(reports, STATE, 0.1) == {}
    changed = {**STATE, "/onecrew/state/light/tone/level": (0.03,)}
    assert told(reports, changed, 0.2) == {9100: ["/onecrew/state/light/tone/level"]}


def test_renewing_brings_all_of_it_again() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 10.0, 60.0)
    told(reports, STATE, 0.0)
    reports.add(PHONE, 30.0, 10.0, 60.0)
    assert told(reports, STATE, 30.0) == {9100: list(STATE)}
    assert len(reports) == 1


def test_nobody_is_told_more_often_than_asked() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 5.0, 60.0)
    reports.add(TABLET, 0.0, 20.0, 60.0)
    counts = {9100: 0, 9200: 0}
    for tick in range(1000):  # 10 s in steps of 10 ms, with something new every time
        state = {**STATE, "/onecrew/state/fade": (tick / 1000, 0.0)}
        for port in told(reports, state, tick / 100):
            counts[port] += 1
    assert 49 <= counts[9100] <= 51
    assert 199 <= counts[9200] <= 201


def test_it_ends_unless_renewed() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 10.0, 5.0)
    reports.add(TABLET, 0.0, 10.0, 60.0)
    told(reports, STATE, 0.0)
    changed = {"/onecrew/state/cue": ("2", "")}
    assert set(told(reports, changed, 4.9)) == {9100, 9200}
    assert set(told(reports, STATE, 5.0)) == {9200}
    assert len(reports) == 1
    reports.remove(TABLET)
    assert reports.next_due() is None


def test_there_is_a_most_of_receivers() -> None:
    reports = Reports()
    for port in range(2000, 2000 + RECEIVERS):
        reports.add(("127.0.0.1", port), 0.0, 10.0, 5.0)
    with pytest.raises(Mistake, match="the most"):
        reports.add(PHONE, 1.0, 10.0, 5.0)
    reports.add(("127.0.0.1", 2000), 4.0, 10.0, 5.0)  # who is inside can renew
    reports.add(PHONE, 6.0, 10.0, 5.0)  # and places fall free
    assert len(reports) == 2


@pytest.mark.parametrize(
    ("rate", "lease", "port"), [(0, 60, 9100), (31, 60, 9100), (10, 0, 9100), (10, 601, 9100), (10, 60, 53)]
)
def test_numbers_out_of_range_are_refused(rate: float, lease: float, port: int) -> None:
    reports = Reports()
    with pytest.raises(Mistake, match="send"):
        reports.add(("127.0.0.1", port), 0.0, rate, lease)
    assert len(reports) == 0


def test_a_large_rig_goes_out_in_datagrams_that_are_not_cut_up() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 10.0, 60.0)
    state = {f"/onecrew/state/light/lamp-{number}/level": (0.5,) for number in range(512)}
    datagrams = [datagram for datagram, _ in reports.news(state, 0.0)]
    assert all(len(datagram) <= DATAGRAM_BYTES for datagram in datagrams)
    heard = [
        message.address
        for datagram in datagrams
        for timed in read_packet(datagram)
        for message in timed.messages
    ]
    assert heard == list(state)
