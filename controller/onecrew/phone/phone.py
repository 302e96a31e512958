"""One connected phone: it is sent what is new as fast as it can take it, and asks for one thing at a time."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
from collections import deque
from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import WSMsgType, web

from onecrew.errors import OnecrewError

log = logging.getLogger(__name__)

PING_S = 10.0
"""A phone that does not answer a ping within half of this is gone (RFC 6455 §5.5.2)."""
BEAT_S = 2.0
"""It is sent something at least this often, so that it can tell silence from rest."""
SEND_S = 5.0
"""A phone that does not take a message within this is let go."""
MAX_MESSAGE = 2048
ASKED_PER_S = 20.0
ASKED_AT_ONCE = 40.0
REPLIES = 32

FORGOTTEN = 4001
"""Close code (RFC 6455 §7.4.2, private use): this phone was forgotten."""
RESTING = 4002
"""Close code: the same phone has newer pages open."""
POLICY = 1008
GOING_AWAY = 1001

Receive = Callable[[object], Awaitable[None]]


class Phone:
    """A phone that was let in. ``open`` it, ``tell`` it things, ``serve`` it until it goes."""

    def __init__(self, token: str, receive: Receive) -> None:
        """``hear`` carries out what it asks for, and raises ``OnecrewError`` to refuse it."""
        self.token = token
        self._receive = receive
        self.socket = web.WebSocketResponse(
            heartbeat=PING_S, max_msg_size=MAX_MESSAGE, compress=False, timeout=1.0, autoclose=True
        )
        self._news: dict[str, dict[str, Any]] = {}
        """What it has not been told yet, the latest of each kind: a slow phone skips, it does not pile up."""
        self._replies: deque[dict[str, Any]] = deque(maxlen=REPLIES)
        self._wake = asyncio.Event()
        self._closing: tuple[int, str] | None = None

    async def open(self, request: web.BaseRequest) -> None:
        """Accepts the websocket; raises ``web.HTTPException`` where the request is none."""
        await self.socket.prepare(request)
        self._transport = request.transport

    def tell(self, kind: str, content: dict[str, Any]) -> None:
        """Puts down what it is to be told next; the latest of each kind replaces what came before."""
        self._news.pop(kind, None)
        self._news[kind] = content
        self._wake.set()

    def forget(self) -> None:
        """Lets it go, and tells it that it has to be paired again."""
        self._close(FORGOTTEN, "this phone was forgotten")

    def rest(self) -> None:
        """Lets it go until somebody looks at it again: the same phone has newer pages open."""
        self._close(RESTING, "this phone has newer pages open")

    def dismiss(self, sentence: str) -> None:
        self._close(GOING_AWAY, sentence)

    async def serve(self) -> None:
        """Serves it until it goes or has to go."""
        telling = asyncio.create_task(self._tell_all())
        try:
            await self._listen()
        finally:
            if self._closing is None:  # it went by itself; otherwise it is being told why it has to
                telling.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await telling

    # ── to the phone ────────────────────────────────────────────────────────────────────────────

    async def _tell_all(self) -> None:
        try:
            while self._closing is None:
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(BEAT_S):
                        await self._wake.wait()
                self._wake.clear()
                messages = [*self._replies, *({kind: content} for kind, content in self._news.items())]
                self._replies.clear()
                self._news.clear()
                async with asyncio.timeout(SEND_S):
                    for message in messages or [{"beat": True}]:
                        await self.socket.send_str(json.dumps(message, separators=(",", ":")))
            code, why = self._closing
            async with asyncio.timeout(SEND_S):
                await self.socket.close(code=code, message=why.encode())
        except (TimeoutError, ConnectionError, RuntimeError):
            pass  # it takes nothing more
        finally:
            if self._transport is not None:
                self._transport.abort()

    def _close(self, code: int, why: str) -> None:
        self._closing = self._closing or (code, why)
        self._wake.set()

    # ── from the phone ──────────────────────────────────────────────────────────────────────────

    async def _listen(self) -> None:
        loop = asyncio.get_running_loop()
        left, counted = ASKED_AT_ONCE, loop.time()
        async for message in self.socket:
            now = loop.time()
            left, counted = min(ASKED_AT_ONCE, left + (now - counted) * ASKED_PER_S) - 1.0, now
            if left < 0 or message.type is not WSMsgType.TEXT:
                self._close(POLICY, "too much at once" if left < 0 else "only text is understood")
                break
            await self._ask(message.data)

    async def _ask(self, text: str) -> None:
        try:
            asked = json.loads(text)
        except (ValueError, RecursionError):
            asked = None
        if not isinstance(asked, dict) or not isinstance(asked.get("id"), int):
            self._close(POLICY, "a message is JSON with an id")
            return
        refused = ""
        try:
            await self._receive(asked.get("do"))
        except OnecrewError as error:
            refused = str(error)
        except Exception:
            log.exception("a command of a phone failed: %s", text)
            refused = "that should not have happened; the page's log says more"
        self._replies.append({"reply": {"id": asked["id"], "refused": refused}})
        self._wake.set()
