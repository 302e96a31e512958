"""Who the phone page lets in: nobody without a code, nobody from elsewhere, and nobody twice."""

from __future__ import annotations

import json
from typing import Any

import pytest

from onecrew.clock import since_boot
from onecrew.phone import connection_limits as page_gate
from onecrew.phone.pairing import CODE_LENGTH, CODE_S
from tests.phone.page_stand import Stand, two_addresses

SECRET = "A name that must not be read by strangers"


# ── No secret, no access ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("cookie", [None, "onecrew-abcdef01=", "onecrew-abcdef01=" + "x" * 43, "a=b"])
def test_without_the_right_secret_there_is_only_the_door(stand: Stand, cookie: str | None) -> None:
    stand.tell("show", {"name": SECRET, "cues": [["1", SECRET]]})
    for path in (
        "/",
        "/link",
        "/page.html",
        "/state",
        "/page.css",
        "/page.js",
        "/pairing.js",
        "/icon.svg",
        "/pair",
    ):
        reply = stand.ask("GET", path, Cookie=cookie)
        assert SECRET.encode() not in reply.body
        assert (reply.status == 200) is (path in ("/page.css", "/page.js", "/pairing.js", "/icon.svg"))
    refused = stand.ask("GET", "/", Cookie=cookie)
    assert refused.status == 403
    assert b"not paired" in refused.body
    assert stand.handshake(Origin=stand.origin, Cookie=cookie).status == 403
    assert stand.server.connected == 0


def test_a_code_lets_a_phone_in_and_its_cookie_is_well_kept(stand: Stand) -> None:
    reply = stand.claim(stand.codes.new(since_boot()))
    assert reply.status == 200
    cookie, *attributes = (part.strip() for part in reply.headers["Set-Cookie"].split(";"))
    # RFC 6265 §4.1.2.6 (HttpOnly); RFC 6265bis §4.1.2.7 (SameSite).
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(attributes)
    page = stand.ask("GET", "/", Cookie=cookie)
    assert page.status == 200
    assert b'id="go"' in page.body
    stand.tell("show", {"name": SECRET, "cues": []})
    assert stand.link(cookie).wait("show")["name"] == SECRET


def test_a_used_code_lets_nobody_in_again(stand: Stand) -> None:
    code = stand.codes.new(since_boot())
    assert stand.claim(code).status == 200
    again = stand.claim(code)
    assert again.status == 403
    assert "Set-Cookie" not in again.headers
    assert "has expired" in again.json["refused"]


def test_a_code_that_has_ended_lets_nobody_in(stand: Stand) -> None:
    assert stand.claim(stand.codes.new(since_boot() - CODE_S - 1)).status == 403


@two_addresses
def test_wrong_codes_are_counted_and_then_have_to_wait(stand: Stand) -> None:
    code = stand.codes.new(since_boot())
    for _ in range(page_gate.WRONG_CODES):
        assert stand.claim("A" * CODE_LENGTH).status == 403
    waiting = stand.claim(code)  # even the right one waits now, so that guessing cannot go on
    assert waiting.status == 429
    assert 0 < int(waiting.headers["Retry-After"]) <= page_gate.WRONG_CODES_S + 1
    own = {"Origin": stand.origin, "Content-Type": "application/json"}
    body = json.dumps({"code": code}).encode()
    assert stand.ask("POST", "/pair", body=body, source="127.0.0.2", **own).status == 200  # another phone


def test_wrong_codes_are_forgiven_in_time_and_memory_is_bounded() -> None:
    wrong = page_gate.WrongCodes()
    for second in range(page_gate.WRONG_CODES):
        assert wrong.wait_s("phone", second) == 0
        wrong.note("phone", second)
    assert wrong.wait_s("phone", 10.0) == page_gate.WRONG_CODES_S - 10.0
    assert wrong.wait_s("phone", page_gate.WRONG_CODES_S) == 0
    for number in range(5000):
        wrong.note(f"phone {number}", 20.0)
    assert len(wrong._tries) <= page_gate.ADDRESSES


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b'"code"',
        b'{"code": 7}',
        b"[" * 1000,
        b"\xff\xfe",
        b'{"code": "' + b"x" * 2000 + b'"}',
    ],
)
def test_bodies_that_make_no_sense_are_refused_and_counted(stand: Stand, body: bytes) -> None:
    own = {"Origin": stand.origin, "Content-Type": "application/json"}
    assert stand.ask("POST", "/pair", body=body, **own).status == 400
    assert stand.phones.count == 0
    assert len(stand.server._wrong._tries["127.0.0.1"]) == 1


def test_forgetting_puts_a_phone_out_at_once(stand: Stand) -> None:
    cookie = stand.paired()
    link = stand.link(cookie)
    stand.codes.forget()
    assert link.ended() == 4001
    assert stand.ask("GET", "/", Cookie=cookie).status == 403
    assert stand.handshake(Origin=stand.origin, Cookie=cookie).status == 403


# ── From elsewhere ──────────────────────────────────────────────────────────────────────────────────

ELSEWHERE = [
    "http://evil.example",
    "https://127.0.0.1:{port}",
    "http://127.0.0.1:1",
    "http://127.0.0.1",
    "null",
    None,
]


@pytest.mark.parametrize("origin", ELSEWHERE)
def test_a_page_of_another_site_cannot_pair_or_connect(stand: Stand, origin: str | None) -> None:
    # RFC 6454 §4: an origin is scheme, host and port, all three.
    said = None if origin is None else origin.format(port=stand.port)
    code = stand.codes.new(since_boot())
    assert stand.claim(code, Origin=said).status == 403
    cookie = stand.paired()
    assert stand.handshake(Origin=said, Cookie=cookie).status == 403
    assert stand.server.connected == 0
    assert stand.claim(code).status == 200  # the code was not used up


@pytest.mark.parametrize("where", ["cross-site", "same-site"])
def test_what_the_browser_says_of_a_request_is_believed(stand: Stand, where: str) -> None:
    # Fetch Metadata Request Headers (W3C): Sec-Fetch-Site.
    told: dict[str, Any] = {"Sec-Fetch-Site": where}
    assert stand.claim(stand.codes.new(since_boot()), **told).status == 403
    assert stand.handshake(Origin=stand.origin, Cookie=stand.paired(), **told).status == 403
    assert stand.ask("GET", "/page.js", **told).status == 403


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", None]
)
def test_what_a_form_can_send_does_not_pair(stand: Stand, kind: str | None) -> None:
    # Fetch: these are the types that a page may send elsewhere without asking first.
    code = stand.codes.new(since_boot())
    assert stand.claim(code, **{"Content-Type": kind}).status == 403


OTHER_HOSTS = [
    "evil.example",
    "evil.example:{port}",
    "127.0.0.2:{port}",
    "127.0.0.1.evil.example",
    "127.0.0.1:{port}@evil.example",
    "localhost.evil.example",
    "[::1]:{port}",
    "127.1:{port}",
    "2130706433",
    "",
    None,
]


@pytest.mark.parametrize("host", OTHER_HOSTS)
def test_a_name_that_was_pointed_here_is_not_answered(stand: Stand, host: str | None) -> None:
    said = None if host is None else host.format(port=stand.port)
    reply = stand.ask("GET", "/", Host=said, Cookie=stand.paired())
    assert reply.status in (
        400,
        421,
    )  # RFC 9110 §15.5.20; RFC 9112 §3.2: 400 without Host
    assert b"<html" not in reply.body


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "LOCALHOST:{port}", "127.0.0.1"])
def test_its_own_address_is_answered(stand: Stand, host: str) -> None:
    assert stand.ask("GET", "/", Host=host.format(port=stand.port), Cookie=stand.paired()).status == 200


@pytest.mark.parametrize(
    ("host", "own", "ours"),
    [
        ("192.168.1.5:9080", "192.168.1.5", True),
        ("192.168.1.6:9080", "192.168.1.5", False),
        ("localhost:9080", "192.168.1.5", False),
        ("localhost:9080", "::1", True),
        ("[::1]:9080", "::1", True),
        ("[::1]", "::1", True),
        ("[fe80::1]:9080", "fe80::1%wlan0", True),
        ("192.168.1.5:9080", "::ffff:192.168.1.5", True),
        ("192.168.1.5:port", "192.168.1.5", False),
        ("192.168.1.5:", "192.168.1.5", True),
        (":9080", "192.168.1.5", False),
    ],
)
def test_only_addresses_are_ours(host: str, own: str, ours: bool) -> None:
    assert page_gate.host_is_ours(host, own) is ours


# ── What every answer says ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("path", ["/", "/page.css", "/page.js", "/nowhere", "/link"])
def test_every_answer_keeps_others_out(stand: Stand, path: str) -> None:
    reply = stand.ask("GET", path)
    policy = dict(
        part.strip().partition(" ")[::2] for part in reply.headers["Content-Security-Policy"].split(";")
    )
    # Content Security Policy Level 3: nothing inline, nothing from elsewhere, framed by nobody.
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert policy["connect-src"] == f"'self' ws://{stand.host}"
    assert reply.headers["X-Content-Type-Options"] == "nosniff"
    assert reply.headers["Referrer-Policy"] == "no-referrer"
    assert reply.headers["Cache-Control"] == "no-store"
    assert reply.headers["Server"] == "onecrew"
    assert not [name for name in reply.headers if name.lower().startswith("access-control")]


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "PATCH", "TRACE"])
def test_other_methods_do_nothing(stand: Stand, method: str) -> None:
    assert stand.ask(method, "/pair").status == 405


@pytest.mark.parametrize(
    "path",
    [
        "/../pairing.py",
        "/%2e%2e/pairing.py",
        "/..%2fpairing.py",
        "//etc/passwd",
        "/page/page.js",
        "/pairing.html",
    ],
)
def test_only_the_page_is_served(stand: Stand, path: str) -> None:
    reply = stand.ask("GET", path)
    assert reply.status in (400, 404)


def test_a_link_that_is_none_is_refused(stand: Stand) -> None:
    assert stand.ask("GET", "/link", Origin=stand.origin, Cookie=stand.paired()).status == 400
