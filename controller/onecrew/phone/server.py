"""The phone page's server: the page itself, pairing, and a websocket for each phone. It knows no engine.

What it serves to everybody is the same for every show. Whatever tells of this show, or does something, needs
the cookie that pairing gave out.
"""

from __future__ import annotations

import asyncio
import json
import logging
import socket
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from aiohttp import web

from onecrew.clock import since_boot
from onecrew.commands.command import Command
from onecrew.commands.table import parse_command
from onecrew.errors import Mistake, Trouble
from onecrew.network.listen_faults import why_not
from onecrew.phone.connection_limits import (
    MAX_BODY,
    LimitedServer,
    WrongCodes,
    host_is_ours,
    is_not_cross_site,
    is_own_page,
    peer_of,
)
from onecrew.phone.pairing import PHONE_S, Phones
from onecrew.phone.phone import Phone
from onecrew.phone.stills import PhoneStills
from onecrew.phone.view import KINDS, is_trim
from onecrew.show.listener import parse_listener

log = logging.getLogger(__name__)

FOLDER = Path(__file__).with_name("page")
KINDS_OF_FILES = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
}
CONNECTED = 16
"""Most connections of phones at once."""
PER_PHONE = 3
"""Most of one phone: pages left open. One more ends its oldest, so that no phone takes the others' places."""
FOLLOW_S = 1.0
"""How often it is looked whether phones were forgotten."""

CarryOut = Callable[[Command], Awaitable[None]]
Ask = Callable[..., Awaitable[dict[str, Any]]]


class PageServer:
    """One page on one address. Make it, ``listen``, tell it what happens, ``close`` it."""

    def __init__(self, phones: Phones, carry_out: CarryOut, key: str, ask: Ask) -> None:
        """``carry_out`` takes commands and raises ``OnecrewError`` to refuse them, ``ask`` puts questions to
        the engine likewise; ``key`` tells the cookies of shows on one machine apart, since browsers share
        cookies between ports."""
        self._phones = phones
        self._carry_out = carry_out
        self._cookie = f"onecrew-{key[:8]}"
        self._files = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.is_file()}
        self._wrong = WrongCodes()
        self._connected: dict[Phone, None] = {}
        """The oldest first."""
        self._latest: dict[str, dict[str, Any]] = {}
        """The last of each kind of message: what a phone is sent when it connects."""
        self._gate: LimitedServer | None = None
        self._server: asyncio.Server | None = None
        self._following: asyncio.Task[None] | None = None
        self._stills = PhoneStills(
            carry_out, ask, lambda view: self.tell("stills", view), lambda: bool(self._connected)
        )

    # ── its life ────────────────────────────────────────────────────────────────────────────────

    async def listen(self, listen: str) -> None:
        """Opens the page at ``address:port``; raises ``Trouble`` with a sentence where that is impossible."""
        loop = asyncio.get_running_loop()
        self._gate = LimitedServer(self._answer)
        try:
            host, port = parse_listener(listen)
            self._server = await loop.create_server(self._gate, host, port, backlog=32)
        except (OSError, ValueError) as error:
            raise Trouble(f"the phone page cannot be served at {listen}: {why_not(error)}") from error
        self._following = loop.create_task(self._follow())

    async def close(self) -> None:
        """Closes the page and every connection to it."""
        await self._stills.close()
        if self._following is not None:
            self._following.cancel()
        if self._server is not None:
            self._server.close()
        for phone in tuple(self._connected):
            phone.dismiss("the page is closed")
        if self._gate is not None:
            await self._gate.shutdown(1.0)
        self._server = self._gate = self._following = None

    @property
    def connected(self) -> int:
        """How many phones are connected now."""
        return len(self._connected)

    def tell(self, kind: str, content: dict[str, Any]) -> None:
        """Tells every phone something that replaces what was said of this kind before."""
        if self._latest.get(kind) != content:
            self._latest[kind] = content
            for phone in self._connected:
                phone.tell(kind, content)

    def withdraw(self, kind: str) -> None:
        """What was said of this kind holds no more: the next is sent even if it says the same."""
        self._latest.pop(kind, None)

    async def _follow(self) -> None:
        while True:
            await asyncio.sleep(FOLLOW_S)
            for phone in tuple(self._connected):
                if not self._phones.knows(phone.token, time.time()):
                    phone.forget()

    # ── requests ────────────────────────────────────────────────────────────────────────────────

    async def _answer(self, request: web.BaseRequest) -> web.StreamResponse:
        try:
            response = await self._respond(request)
        except (asyncio.CancelledError, ConnectionError):
            raise
        except Exception:
            log.exception("a request failed")
            response = _plain(500, "that should not have happened; the page's log says more")
        if not response.prepared:
            response.headers.update(_headers(request.headers.get("Host", "")))
            response.force_close()
        return response

    async def _respond(self, request: web.BaseRequest) -> web.StreamResponse:
        host = request.headers.get("Host", "")
        own = request.transport.get_extra_info("sockname") if request.transport is not None else None
        if own is None or not host_is_ours(host, str(own[0])):
            return _plain(421, "this page is reached by its address alone, as in the code that was scanned")
        paired = self._phones.knows(request.cookies.get(self._cookie, ""), time.time())
        match (request.method, request.path):
            case ("GET", "/"):
                return self._file("page.html" if paired else "pairing.html", 200 if paired else 403)
            case ("GET", "/link"):
                return await self._link(request, host, paired)
            case ("POST", "/pair"):
                return await self._pair(request, host)
            case ("GET", path) if path[1:] in self._files and not path.endswith(".html"):
                return (
                    self._file(path[1:])
                    if is_not_cross_site(request.headers)
                    else _plain(403, "not from here")
                )
            case ("GET" | "POST", _):
                return _plain(404, "there is nothing here")
        return _plain(405, "this page is read, and paired with; nothing else can be done here")

    def _file(self, name: str, status: int = 200) -> web.Response:
        kind = KINDS_OF_FILES[Path(name).suffix]
        return web.Response(status=status, body=self._files[name], content_type=kind, charset="utf-8")

    async def _pair(self, request: web.BaseRequest, host: str) -> web.Response:
        if not is_own_page(request.headers, host) or request.content_type != "application/json":
            return _plain(403, "only this page itself can pair a phone")
        address, now = peer_of(request.transport), time.monotonic()
        wait_s = self._wrong.wait_s(address, now)
        if wait_s > 0:
            refused = _said(429, f"Too many wrong codes. Try again in {wait_s:.0f} seconds.")
            refused.headers["Retry-After"] = str(int(wait_s) + 1)
            return refused
        try:
            token = self._phones.claim(await _code_in(request), since_boot(), time.time())
        except Mistake as mistake:
            self._wrong.note(address, now)
            return _said(400, str(mistake))
        except Trouble as trouble:
            return _said(500, str(trouble))
        if token is None:
            self._wrong.note(address, now)
            return _said(403, "This code is wrong or has expired. Ask for a new one: onecrew pair")
        paired = _said(200, "")
        paired.set_cookie(
            self._cookie, token, max_age=int(PHONE_S), path="/", httponly=True, samesite="Strict"
        )
        return paired

    # ── phones ──────────────────────────────────────────────────────────────────────────────────

    async def _link(self, request: web.BaseRequest, host: str, paired: bool) -> web.StreamResponse:
        if not is_own_page(request.headers, host):
            return _plain(403, "only this page itself can connect")
        if not paired:
            return _plain(403, "this phone is not paired")
        token = request.cookies[self._cookie]
        own = [phone for phone in self._connected if phone.token == token]
        if len(own) >= PER_PHONE:
            own[0].rest()
            self._connected.pop(own[0], None)
        if len(self._connected) >= CONNECTED:
            return _plain(503, f"{CONNECTED} phones are connected already")
        phone = Phone(token, self._receive)
        transport = request.transport
        try:
            await phone.open(request)
        except web.HTTPException as none:
            return _plain(none.status, "this address is for the page's own connection")
        if transport is not None:
            transport.set_write_buffer_limits(high=1 << 16)
            sock = transport.get_extra_info("socket")
            if sock is not None:
                sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if self._gate is not None:
            self._gate.may_stay(transport)
        self._connected[phone] = None
        try:
            for kind, content in self._latest.items():
                phone.tell(kind, content)
            await phone.serve()
        finally:
            self._connected.pop(phone, None)
        return phone.socket

    async def _receive(self, raw: object) -> None:
        """Carries out what a phone asks for; raises ``OnecrewError`` with a sentence where it may not."""
        kind = raw.get("kind") if isinstance(raw, dict) else None
        if kind == "stills":
            await self._stills.receive(raw)
            return
        trims = kind == "set" and bool(self._latest.get("show", {}).get("trim"))
        if not trims and (not isinstance(kind, str) or kind not in KINDS):
            raise Mistake("a phone runs the show; it cannot do this")
        command = parse_command(raw)
        if trims and not is_trim(command):
            raise Mistake("a phone trims one lamp by a stop at most; it cannot do this")
        await self._carry_out(command)


async def _code_in(request: web.BaseRequest) -> str:
    body = b""
    while len(body) <= MAX_BODY and (part := await request.content.read(MAX_BODY + 1 - len(body))):
        body += part
    try:
        content = json.loads(body) if len(body) <= MAX_BODY else None
    except (ValueError, RecursionError):
        content = None
    code = content.get("code") if isinstance(content, dict) else None
    if not isinstance(code, str):
        raise Mistake('send {"code": …}, nothing else, and not much of it')
    return code


def _headers(host: str) -> dict[str, str]:
    """What every answer carries: nothing from elsewhere, nothing framed, nothing kept, nothing told on.

    Content Security Policy Level 3. Some browsers do not count a websocket as 'self', so it is named.
    """
    link = f" ws://{host}" if host and not set(host) - set("0123456789abcdef.:[]localhost") else ""
    return {
        "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        f"connect-src 'self'{link}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "no-referrer",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
        "Cache-Control": "no-store",
        "Server": "onecrew",
    }


def _plain(status: int, sentence: str) -> web.Response:
    return web.Response(status=status, text=sentence + "\n")


def _said(status: int, sentence: str) -> web.Response:
    return web.json_response({"refused": sentence} if sentence else {"paired": True}, status=status)
