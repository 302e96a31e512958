"""A phone page for the tests: the real server in a loop of its own, and clients of every kind."""

from __future__ import annotations

import asyncio
import http.client
import json
import socket
import sys
import threading
import time
from collections.abc import Coroutine
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import aiohttp
import pytest

from onecrew.clock import since_boot
from onecrew.commands.command import Command
from onecrew.errors import Refused
from onecrew.phone.pairing import Codes, Phones
from onecrew.phone.server import PageServer

WAIT_S = 20.0
"""How long anything is waited for before a test fails; never a measure of speed."""
T = TypeVar("T")
two_addresses = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only Linux has all of 127.0.0.0/8 without being asked"
)


@dataclass
class Reply:
    status: int
    headers: http.client.HTTPMessage
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Stand:
    """The page of a show that does not exist; ``done`` are the commands that phones had carried out."""

    folder: Path
    done: list[Command] = field(default_factory=list)
    locked: bool = False
    asked: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    answers: dict[str, dict[str, Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self._thread.start()
        self.codes = Codes(self.folder / "codes")
        self.phones = Phones(self.folder / "phones", self.codes.path)
        self.server = PageServer(self.phones, self._carry_out, "abcdef0123456789", self._ask)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.run(self.server.listen(f"127.0.0.1:{self.port}"))
        self.host = f"127.0.0.1:{self.port}"
        self.origin = f"http://{self.host}"
        self._session: aiohttp.ClientSession | None = None

    async def _carry_out(self, command: Command) -> None:
        if self.locked:
            raise Refused("the desk is locked")
        self.done.append(command)

    async def _ask(self, topic: str, **arguments: Any) -> dict[str, Any]:
        self.asked.append((topic, arguments))
        return self.answers[topic]

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(WAIT_S)

    def tell(self, kind: str, content: dict[str, Any]) -> None:
        self.loop.call_soon_threadsafe(self.server.tell, kind, content)

    def wait(self, fits: Any) -> None:
        deadline = time.monotonic() + WAIT_S
        while not fits():
            assert time.monotonic() < deadline
            time.sleep(0.01)

    def close(self) -> None:
        if self._session is not None:
            self.run(self._session.close())
        self.run(self.server.close())
        self.run(self._settle())
        self.loop.call_soon_threadsafe(self.loop.stop)
        self._thread.join(WAIT_S)
        self.loop.close()

    async def _settle(self) -> None:
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    # ── requests ────────────────────────────────────────────────────────────────────────────────

    def ask(
        self,
        method: str,
        path: str,
        *,
        body: bytes | None = None,
        source: str = "127.0.0.1",
        **headers: str | None,
    ) -> Reply:
        """One request, with these headers and no others than Host; None leaves Host out."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=WAIT_S, source_address=(source, 0))
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        link.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        if "Host" not in named:
            link.putheader("Host", self.host)
        for name, value in named.items():
            if value is not None:
                link.putheader(name, value)
        if body is not None and "Transfer-Encoding" not in named and "Content-Length" not in named:
            link.putheader("Content-Length", str(len(body)))
        link.endheaders(body)
        answer = link.getresponse()
        reply = Reply(answer.status, answer.headers, answer.read())
        link.close()
        return reply

    def claim(self, code: str, **headers: str | None) -> Reply:
        """Tries a code the way the page does; headers as given instead."""
        own: dict[str, Any] = {"Origin": self.origin, "Content-Type": "application/json", **headers}
        return self.ask("POST", "/pair", body=json.dumps({"code": code}).encode(), **own)

    def paired(self) -> str:
        """The cookie of a phone that was let in."""
        reply = self.claim(self.codes.new(since_boot()))
        assert reply.status == 200, reply
        return reply.headers["Set-Cookie"].partition(";")[0]

    def link(self, cookie: str) -> Link:
        return Link(self, self.run(self._open(cookie)))

    async def _open(self, cookie: str) -> aiohttp.ClientWebSocketResponse:
        if self._session is None:
            self._session = aiohttp.ClientSession()
        headers = {"Origin": self.origin, "Cookie": cookie}
        return await self._session.ws_connect(f"ws://{self.host}/link", headers=headers, compress=0)

    def handshake(self, **headers: str | None) -> Reply:
        """A websocket's first request (RFC 6455 §1.2 has the key), with more headers."""
        opening: dict[str, Any] = {
            "Connection": "Upgrade",
            "Upgrade": "websocket",
            "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
            **headers,
        }
        return self.ask("GET", "/link", **opening)


@dataclass
class Link:
    """A phone's websocket."""

    stand: Stand
    socket: aiohttp.ClientWebSocketResponse

    def send(self, message: Any) -> None:
        text = message if isinstance(message, str) else json.dumps(message)
        self.stand.run(self.socket.send_str(text))

    def send_bytes(self, data: bytes) -> None:
        self.stand.run(self.socket.send_bytes(data))

    def next(self) -> dict[str, Any]:
        message = self.stand.run(self.socket.receive())
        assert message.type is aiohttp.WSMsgType.TEXT, message
        return dict(json.loads(message.data))

    def wait(self, kind: str) -> Any:
        """The content of the next message of a kind."""
        while True:
            message = self.next()
            if kind in message:
                return message[kind]

    def ask(self, command: Any, number: int = 1) -> str:
        """Has something done; returns the refusal."""
        self.send({"id": number, "do": command})
        reply = self.wait("reply")
        assert reply["id"] == number
        return str(reply["refused"])

    def ended(self) -> int | None:
        """The close code that it was given, None where the connection was just cut."""
        while True:
            message = self.stand.run(self.socket.receive())
            if message.type is aiohttp.WSMsgType.CLOSE:
                return int(message.data)
            if message.type is not aiohttp.WSMsgType.TEXT:
                return None
