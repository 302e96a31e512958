"""Who is sent what by OSC, and when; time is handed in."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from onecrew.errors import Mistake
from onecrew.osc.packets import read_packet
from onecrew.osc.reports import DATAGRAM_BYTES, ECHO_S, ECHOES, RECEIVERS, REFRESH_S, TOUCH_S, Reports

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


# ── Control surfaces ────────────────────────────────────────────────────────────────────────────────

SURFACE = ("192.168.1.20", 9002)
LEVEL = "/onecrew/light/tone/level"


def values(reports: Reports, level: float, now: float) -> list[float]:
    """What the surface's fader is sent."""
    return [
        message.arguments[0]  # type: ignore[misc]
        for datagram, to in reports.news({LEVEL: (level,)}, now)
        if to == SURFACE
        for timed in read_packet(datagram)
        for message in timed.messages
    ]


def test_a_receiver_of_the_show_needs_no_request_and_gets_all_of_it_again() -> None:
    reports = Reports([SURFACE])
    assert values(reports, 0.5, 0.0) == [0.5]
    assert values(reports, 0.5, 0.1) == []
    assert values(reports, 0.5, REFRESH_S - 0.1) == []
    assert values(reports, 0.5, REFRESH_S + 0.1) == [0.5]
    reports.remove(SURFACE)
    assert values(reports, 0.6, 1000.0) == [pytest.approx(0.6)]


def test_a_fader_in_motion_is_not_fought_and_learns_the_end() -> None:
    reports = Reports([SURFACE])
    values(reports, 0.5, 0.0)
    for step in range(1, 20):
        reports.touch(SURFACE[0], LEVEL, step / 10)
        assert values(reports, 0.5 + step / 100, step / 10 + 0.05) == []
    assert values(reports, 0.65, 1.9 + TOUCH_S + 0.05) == [pytest.approx(0.65)]  # refused, limited: the truth


def test_another_surface_follows_meanwhile() -> None:
    reports = Reports([SURFACE, ("192.168.1.21", 9002)])
    reports.news({LEVEL: (0.1,)}, 0.0)
    reports.touch(SURFACE[0], LEVEL, 0.05)
    assert [to[0] for _, to in reports.news({LEVEL: (0.2,)}, 0.1)] == ["192.168.1.21"]


def test_what_is_only_sent_back_is_known() -> None:
    reports = Reports([SURFACE])
    values(reports, 0.31, 0.0)
    values(reports, 0.32, 0.1)
    back = float(np.float32(0.31))
    assert reports.is_echo(SURFACE[0], LEVEL, (back,), 0.2)
    assert not reports.is_echo(SURFACE[0], LEVEL, (0.4,), 0.2)
    assert not reports.is_echo("192.168.1.21", LEVEL, (back,), 0.2)
    assert not reports.is_echo(SURFACE[0], LEVEL, (back,), 0.0 + ECHO_S)
    reports.touch(SURFACE[0], LEVEL, 0.2)  # moved since: going back to where it stood is meant
    assert not reports.is_echo(SURFACE[0], LEVEL, (back,), 0.25)


def test_whatever_a_device_sends_renews_its_reports() -> None:
    reports = Reports()
    reports.add(PHONE, 0.0, 10.0, 60.0)
    reports.renew("127.0.0.1", 50.0)
    reports.drop_expired(100.0)
    assert len(reports) == 1
    reports.drop_expired(111.0)
    assert len(reports) == 0


def test_touches_are_bounded() -> None:
    reports = Reports([SURFACE])
    for number in range(ECHOES + 100):
        reports.touch(SURFACE[0], f"/onecrew/cue/{number}", 0.0)
        reports.touch("192.168.1.99", f"/onecrew/cue/{number}", 0.0)
    assert len(reports._touched) == ECHOES
