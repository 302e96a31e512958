"""Clients that send too much, too slowly or nothing at all cost the phone page little and others nothing."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Iterator

import pytest

from onecrew.phone import connection_limits as page_gate
from onecrew.phone import phone as page_phone
from tests.phone.page_stand import WAIT_S, Stand, two_addresses


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Deadlines short enough for a test."""
    monkeypatch.setattr(page_gate, "REQUEST_S", 0.3)
    monkeypatch.setattr(page_phone, "SEND_S", 0.3)


@contextlib.contextmanager
def raw(stand: Stand, source: str = "127.0.0.1") -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", stand.port), WAIT_S, source_address=(source, 0)) as link:
        yield link


def is_cut(link: socket.socket) -> bool:
    """Waits for the other side to end the connection; true if it did so without an answer."""
    try:
        return link.recv(65536) == b""
    except ConnectionError:
        return True


def head(stand: Stand, *lines: str) -> bytes:
    return "\r\n".join([*lines, f"Host: {stand.host}", "", ""]).encode()


# ── Too slow (the attack is known as slow headers, slow body and slow reading) ──────────────────────


def test_a_connection_that_says_nothing_is_cut(short: None, stand: Stand) -> None:
    with raw(stand) as link:
        assert is_cut(link)
    assert stand.server._gate is not None
    assert stand.server._gate.cut == 1


@pytest.mark.parametrize(
    "start",
    [
        "GET / HTTP/1.1\r\n",
        "POST /pair HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/json\r\n"
        "Content-Length: 500\r\n\r\n",
        "POST /pair HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/json\r\n"
        "Transfer-Encoding: chunked\r\n\r\n",
    ],
)
def test_a_request_that_dribbles_is_cut(short: None, stand: Stand, start: str) -> None:
    with raw(stand) as link:
        link.sendall(start.format(host=stand.host).encode())
        sent = 0
        try:
            for _ in range(2000):  # two hundred times the deadline, unless it is cut
                link.sendall(
                    b"x" if "Length" in start else b"X-Slow: 1\r\n" if "POST" not in start else b"1\r\nx\r\n"
                )
                sent += 1
                time.sleep(0.03)
        except ConnectionError:
            pass
        assert sent < 200
    assert stand.ask("GET", "/page.css").status == 200


@two_addresses
def test_others_are_served_meanwhile(stand: Stand) -> None:
    with contextlib.ExitStack() as slow:
        for _ in range(page_gate.PER_ADDRESS):
            slow.enter_context(raw(stand, "127.0.0.9")).sendall(b"GET / HTTP/1.1\r\nX-Slow: ")
        assert stand.ask("GET", "/page.css").status == 200
        link = stand.link(stand.paired())
        assert link.ask({"kind": "go"}) == ""


def test_a_paired_phone_outlives_the_deadline(
    short: None, stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page_phone, "BEAT_S", 0.1)
    link = stand.link(stand.paired())
    for _ in range(8):  # beats over more than twice the deadline
        link.wait("beat")
    assert link.ask({"kind": "go"}) == ""


# ── Too many ────────────────────────────────────────────────────────────────────────────────────────


@two_addresses
def test_one_address_gets_so_many_connections(stand: Stand) -> None:
    with contextlib.ExitStack() as crowd:
        for _ in range(page_gate.PER_ADDRESS):
            crowd.enter_context(raw(stand, "127.0.0.9"))
        stand.wait(
            lambda: stand.server._gate is not None and len(stand.server._gate._open) == page_gate.PER_ADDRESS
        )
        with raw(stand, "127.0.0.9") as late:
            assert is_cut(late)
        assert stand.ask("GET", "/page.css").status == 200
    stand.wait(lambda: stand.server._gate is not None and not stand.server._gate._open)
    assert stand.ask("GET", "/page.css", source="127.0.0.9").status == 200
    assert stand.server._gate is not None
    stand.wait(lambda: stand.server._gate is not None and not stand.server._gate._by_address)


@two_addresses
def test_all_together_get_so_many_connections(stand: Stand) -> None:
    with contextlib.ExitStack() as crowd:
        for number in range(page_gate.CONNECTIONS):
            crowd.enter_context(raw(stand, f"127.0.1.{number % 4 + 1}"))
        stand.wait(
            lambda: stand.server._gate is not None and len(stand.server._gate._open) == page_gate.CONNECTIONS
        )
        with raw(stand) as late:
            assert is_cut(late)
    stand.wait(lambda: stand.server._gate is not None and not stand.server._gate._open)
    assert stand.ask("GET", "/page.css").status == 200


def test_only_so_many_phones_are_connected(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    from onecrew.phone import server as page_server

    monkeypatch.setattr(page_server, "CONNECTED", 3)
    links = [stand.link(stand.paired()) for _ in range(3)]
    cookie = stand.paired()
    assert stand.handshake(Origin=stand.origin, Cookie=cookie).status == 503
    stand.run(links[0].socket.close())
    stand.wait(lambda: stand.server.connected == 2)
    assert stand.link(cookie).ask({"kind": "go"}) == ""


def test_one_phone_cannot_take_all_places(stand: Stand) -> None:
    from onecrew.phone import server as page_server
    from onecrew.phone.phone import RESTING

    other = stand.link(stand.paired())
    cookie = stand.paired()
    links = [stand.link(cookie) for _ in range(page_server.CONNECTED + 4)]
    assert stand.server.connected == 1 + page_server.PER_PHONE
    assert links[0].ended() == RESTING
    assert other.ask({"kind": "go"}) == "" and links[-1].ask({"kind": "go"}) == ""


# ── Too much ────────────────────────────────────────────────────────────────────────────────────────


def test_a_body_that_is_too_long_is_refused(stand: Stand) -> None:
    own = {"Origin": stand.origin, "Content-Type": "application/json"}
    body = b'{"code": "' + b"x" * page_gate.MAX_BODY + b'"}'
    assert stand.ask("POST", "/pair", body=body, **own).status == 400


def test_a_body_without_end_is_cut_off(stand: Stand) -> None:
    with raw(stand) as link:
        link.sendall(
            head(stand, "POST /pair HTTP/1.1", f"Origin: {stand.origin}", "Content-Type: application/json",
                 "Transfer-Encoding: chunked")
        )  # fmt: skip
        sent = 0
        chunk = b"1000\r\n" + b"x" * 4096 + b"\r\n"
        try:
            for _ in range(10_000):
                link.sendall(chunk)
                sent += len(chunk)
        except ConnectionError:
            pass
        assert sent < 8 << 20  # what both sockets' buffers hold, not 40 MiB
    assert stand.phones.count == 0


@pytest.mark.parametrize(
    "lines",
    [
        ["GET /" + "x" * 5000 + " HTTP/1.1"],
        ["GET / HTTP/1.1", "Cookie: " + "x" * 9000],
        ["GET / HTTP/1.1", *(f"X-{number}: 1" for number in range(200))],
        ["GET / HTTP/1.1", "Content-Length: -1"],
        ["GET / HTTP/1.1", "Content-Length: 5", "Transfer-Encoding: chunked"],
        ["GET /\x00 HTTP/1.1"],
        [
            "\x16\x03\x01\x02\x00\x01\x00"
        ],  # the beginning of TLS (RFC 8446 §5.1), sent by a browser that tries https
    ],
)
def test_heads_that_are_too_long_or_unsound_are_refused(stand: Stand, lines: list[str]) -> None:
    with raw(stand) as link:
        link.sendall(head(stand, *lines))
        answer = b""
        with contextlib.suppress(ConnectionError):
            while part := link.recv(65536):
                answer += part
    assert not answer or answer.split(b" ")[1] in (b"400", b"403", b"404", b"431")
    assert b"200 OK" not in answer
    assert stand.ask("GET", "/page.css").status == 200


def test_requests_in_a_row_on_one_connection_are_not_taken(stand: Stand) -> None:
    one = head(stand, "GET /page.css HTTP/1.1")
    with raw(stand) as link:
        link.sendall(one * 50)
        answer = b""
        with contextlib.suppress(ConnectionError):
            while part := link.recv(65536):
                answer += part
    assert answer.count(b"HTTP/1.1 200") == 1
    assert b"Connection: close" in answer


# ── Phones that misbehave ───────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    "message", ["{", "7", "[]", '{"do": {"kind": "go"}}', '{"id": "1", "do": {}}', "[" * 1500]
)
def test_a_phone_that_talks_nonsense_is_let_go(stand: Stand, message: str) -> None:
    link = stand.link(stand.paired())
    link.send(message)
    assert link.ended() == 1008  # RFC 6455 §7.4.1: policy
    assert stand.done == []


def test_bytes_and_long_messages_are_let_go(stand: Stand) -> None:
    link = stand.link(stand.paired())
    link.send_bytes(b"{}")
    assert link.ended() == 1008
    link = stand.link(stand.paired())
    link.send("x" * (page_phone.MAX_MESSAGE + 1))
    assert link.ended() == 1009  # RFC 6455 §7.4.1: too big


def test_a_phone_that_floods_is_let_go(stand: Stand) -> None:
    link = stand.link(stand.paired())
    with contextlib.suppress(ConnectionError):
        for number in range(500):
            link.send({"id": number, "do": {"kind": "go"}})
    link.ended()
    stand.wait(lambda: stand.server.connected == 0)
    assert len(stand.done) <= page_phone.ASKED_AT_ONCE + page_phone.ASKED_PER_S * WAIT_S
    assert len(stand.done) < 200


def test_a_phone_that_does_not_read_is_let_go_and_piles_nothing_up(short: None, stand: Stand) -> None:
    cookie = stand.paired()
    with raw(stand) as link:
        link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        link.sendall(
            head(
                stand,
                "GET /link HTTP/1.1",
                f"Origin: {stand.origin}",
                f"Cookie: {cookie}",
                "Connection: Upgrade",
                "Upgrade: websocket",
                "Sec-WebSocket-Version: 13",
                "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
            )
        )
        stand.wait(lambda: stand.server.connected == 1)
        other = stand.link(cookie)
        deadline = time.monotonic() + WAIT_S
        number = 0
        while stand.server.connected == 2 and time.monotonic() < deadline:
            number += 1
            stand.tell("state", {"number": number, "filling": "x" * 20_000})
            time.sleep(0.002)
        stand.wait(lambda: stand.server.connected == 1)
        assert number > 5
        assert other.wait("state")["filling"]
