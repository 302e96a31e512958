"""Link: the engine's side of its clients, on TCP at 127.0.0.1 behind a token.

Clients come and go, send garbage, or never read: none of that reaches the light. A client that does not read
misses snapshots (the next one replaces them) and is let go when its replies pile up.
"""

from __future__ import annotations

import asyncio
import hmac
import itertools
import logging
import math
import time
from collections.abc import Callable, Coroutine, Iterator
from functools import partial
from typing import Any

from onecrew.engine.changes import Changes
from onecrew.engine.protocol import HELLO_LIMIT, HOST, LINE_LIMIT, VERSION
from onecrew.errors import OnecrewError, Refused, Trouble
from onecrew.network.json_lines import LineBuffer, pack, unpack

log = logging.getLogger(__name__)

CLIENTS = 256
"""Most connections at once; any more get a sentence and are closed."""
HELLO_S = 5.0
"""How long a client has for its hello, and to read its goodbye."""
SNAPSHOT_BACKLOG = 1 << 18
"""Bytes unread by a client beyond which snapshots skip it."""
REPLY_BACKLOG = 8 << 20
MAX_RATE_HZ = 30.0
TURN_S = 0.002
"""Longest work for one client at a stretch: a frame that is due has its turn then."""
SLOW_AT_ONCE = 2
"""Slow questions of all clients that are worked on at a time; more are refused."""

Answer = dict[str, Any]
SlowAnswer = Coroutine[Any, Any, Answer]
Ask = Callable[[str, dict[str, Any]], Answer | SlowAnswer]
CarryOut = Callable[[dict[str, Any]], bool]


class Link:
    """The listening side: hands commands and questions to the engine, snapshots to those who watch."""

    def __init__(
        self,
        token: str,
        carry_out: CarryOut,
        answer: Ask,
        changes: Changes,
        watching: Callable[[], int],
        keep: Callable[[], None],
    ) -> None:
        """``carry_out`` takes a raw command, raises ``OnecrewError`` to refuse it and says whether it changed
        something; ``answer`` takes a
        question and gives the answer, or a coroutine where that takes long; ``changes`` are what watchers are
        sent; ``watching`` is called when one comes, and returns the number of the last state that is too old
        for it; ``keep`` is called when commands were carried out, before any client hears that they were:
        what is acknowledged outlives a kill."""
        self.token = token
        self.carry_out = carry_out
        self.answer = answer
        self.changes = changes
        self.watching = watching
        self.keep = keep
        self.connections: set[Connection] = set()
        self.coming: set[asyncio.Task[Answer]] = set()
        """Slow answers that are being worked on."""
        self.refused = 0
        """Connections turned away."""
        self._server: asyncio.Server | None = None

    async def listen(self, port: int = 0) -> int:
        """Listens on 127.0.0.1; returns the port. Raises ``Trouble`` where that is impossible."""
        loop = asyncio.get_running_loop()
        try:
            self._server = await loop.create_server(lambda: Connection(self), HOST, port, backlog=64)
        except OSError as error:
            raise Trouble(f"the engine cannot listen on {HOST}:{port} ({error.strerror})") from error
        return int(self._server.sockets[0].getsockname()[1])

    @property
    def watched(self) -> bool:
        """Whether anybody wants snapshots."""
        return any(connection.interval_s is not None for connection in self.connections)

    def interval_s(self) -> float:
        """Shortest time between snapshots that any watcher asked for."""
        return min((c.interval_s for c in self.connections if c.interval_s is not None), default=1.0)

    def publish(self, now: float, *, to_all: bool = False) -> float:
        """Sends every watcher what it has not heard; but for ``to_all`` not those who are behind or asked for
        less. Returns when the first of these wants it, inf where all have heard it."""
        due = (connection.offer(now, at_once=to_all) for connection in tuple(self.connections))
        return min(due, default=math.inf)

    async def close(self, goodbye: str) -> None:
        """Says goodbye to everyone and stops listening."""
        for connection in tuple(self.connections):
            connection.dismiss(goodbye, stopped=True)
        if self._server is not None:
            self._server.close()
            await asyncio.sleep(0)


class Connection(asyncio.Protocol):
    """One client."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self.interval_s: float | None = None
        self._next_snapshot = 0.0
        self._heard = 0
        """The number of the state that it was sent last."""
        self._too_old = 0
        """States up to this number are from before it watched."""
        self._known = False
        self._lines = LineBuffer(HELLO_LIMIT)
        self._replies: list[bytes] | None = None
        """What is to be sent when all that came together is done; None at other times."""
        self._waiting: Iterator[bytes] = iter(())
        self._working = False
        self._coming: set[asyncio.Task[Answer]] = set()
        self._transport: asyncio.Transport
        self._deadline: asyncio.TimerHandle | None = None

    # ── from the network ────────────────────────────────────────────────────────────────────────

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        transport.set_write_buffer_limits(high=REPLY_BACKLOG)
        if len(self.link.connections) >= CLIENTS:
            self.dismiss(f"this engine serves {CLIENTS} clients at once, and has that many")
            return
        self.link.connections.add(self)
        self._unless_in_time(self._no_hello)

    def data_received(self, data: bytes) -> None:
        """Takes what came; more than ``TURN_S`` of work is left for later turns of the loop."""
        self._waiting = itertools.chain(self._waiting, self._lines.feed(data))
        if not self._working:
            self._work()

    def _work(self) -> None:
        self._working = False
        self._replies = []
        try:
            try:
                self._receive_lines(time.monotonic() + TURN_S)
            finally:
                self._send_replies()
        except ValueError as error:
            self.dismiss(f"{error}; the link speaks lines of JSON, a hello first")
        except Exception:
            log.exception("the link failed at a message")
            self.dismiss("the engine failed here: see whether what you sent took effect; its log says more")

    def _receive_lines(self, enough: float) -> None:
        for line in self._waiting:
            if self._transport.is_closing():
                return
            self._receive(unpack(line))
            if time.monotonic() > enough:
                self._working = True
                self._transport.pause_reading()
                asyncio.get_running_loop().call_soon(self._work)
                return
        self._transport.resume_reading()

    def _send_replies(self) -> None:
        """What was answered leaves together, after what it promises was kept."""
        replies, self._replies = self._replies, None
        if replies:
            self.link.keep()
            self._send(b"".join(replies))

    def connection_lost(self, _exc: Exception | None) -> None:
        self.link.connections.discard(self)
        for task in self._coming:
            task.cancel()
        self._in_time()

    # ── to the client ───────────────────────────────────────────────────────────────────────────

    def offer(self, now: float, *, at_once: bool) -> float:
        """Sends what is new to this client if it watches, keeps up, and is due it; returns when it wants what
        it was not sent, inf for nothing."""
        changes = self.link.changes
        if self.interval_s is None or changes.number <= self._too_old or self._transport.is_closing():
            return math.inf
        if not at_once and self._heard:
            if self._heard == changes.number:
                return math.inf
            if self._transport.get_write_buffer_size() > SNAPSHOT_BACKLOG:
                return now + self.interval_s
            if now < self._next_snapshot:
                return self._next_snapshot
        self._next_snapshot = now + 0.8 * self.interval_s
        self._send(changes.since(self._heard))
        self._heard = changes.number
        return math.inf

    def dismiss(self, sentence: str, *, stopped: bool = False) -> None:
        """Closes the connection with a reason; ``stopped``: the engine ends, and the lights are out."""
        self.link.refused += not stopped
        self.link.connections.discard(self)  # nothing more is made for it, whether it reads this or not
        if not self._transport.is_closing():
            self._transport.write(pack({"goodbye": sentence, "stopped": stopped}))
            self._transport.close()
            self._unless_in_time(self._transport.abort)

    # ── one message ─────────────────────────────────────────────────────────────────────────────

    def _receive(self, message: dict[str, Any]) -> None:
        if not self._known:
            self._greet(message)
        elif "command" in message:
            self._reply(message, "changed", lambda: self._carry_out(message["command"]))
        elif "ask" in message:
            self._reply(message, "answer", lambda: self._answer(message))
        elif "watch" in message:
            self._watch(message["watch"])
        else:
            raise ValueError("a message is a command, a question (ask) or a watch; this one is none")

    def _greet(self, message: dict[str, Any]) -> None:
        hello = message.get("hello")
        token = hello.get("token") if isinstance(hello, dict) else None
        if not isinstance(token, str) or not hmac.compare_digest(token.encode(), self.link.token.encode()):
            raise ValueError("the first line must be a hello with this engine's token")
        self._known = True
        self._lines.limit = LINE_LIMIT
        self._in_time()
        self._send(pack({"welcome": {"version": VERSION}}))

    def _carry_out(self, command: object) -> bool:
        if not isinstance(command, dict):
            raise ValueError("a command is a JSON object with a kind")
        return self.link.carry_out(command)

    def _answer(self, message: dict[str, Any]) -> Answer | SlowAnswer:
        arguments = message.get("with", {})
        if not isinstance(message["ask"], str) or not isinstance(arguments, dict):
            raise ValueError('a question is {"ask": "topic", "with": {…}}')
        return self.link.answer(message["ask"], arguments)

    def _reply(self, message: dict[str, Any], word: str, act: Callable[[], object]) -> None:
        number = message.get("id")
        try:
            result = act()
            if isinstance(result, Coroutine):
                self._reply_later(number, result)
                return
        except OnecrewError as error:
            self._send(pack({"id": number, "refused": str(error)}))
        else:
            self._send(pack({"id": number, word: result}))

    def _reply_later(self, number: object, coming: SlowAnswer) -> None:
        if len(self.link.coming) >= SLOW_AT_ONCE:
            coming.close()
            raise Refused("the engine is busy with other questions of this kind: ask again in a moment")
        task = asyncio.get_running_loop().create_task(coming)
        for tasks in (self.link.coming, self._coming):
            tasks.add(task)
            task.add_done_callback(tasks.discard)
        task.add_done_callback(partial(self._came, number))

    def _came(self, number: object, task: asyncio.Task[Answer]) -> None:
        if task.cancelled():
            return
        error = task.exception()
        if error is None:
            self._send(pack({"id": number, "answer": task.result()}))
        elif isinstance(error, OnecrewError):
            self._send(pack({"id": number, "refused": str(error)}))
        else:
            log.error("a question failed", exc_info=error)
            self._send(
                pack({"id": number, "refused": "the engine failed at this question; its log says more"})
            )

    def _watch(self, wish: object) -> None:
        rate = wish.get("rate_hz", 15.0) if isinstance(wish, dict) else None
        if isinstance(rate, bool) or not isinstance(rate, int | float) or not 0.1 <= rate <= MAX_RATE_HZ:
            raise ValueError(f"a watch has a rate_hz from 0.1 to {MAX_RATE_HZ:g}")
        self.interval_s = 1.0 / rate
        self._too_old = self.link.watching()

    def _send(self, line: bytes) -> None:
        if self._replies is not None:
            self._replies.append(line)
            return
        if self._transport.is_closing():
            return
        if self._transport.get_write_buffer_size() > REPLY_BACKLOG:
            self._transport.abort()  # it asks and never reads
            return
        self._transport.write(line)

    def _no_hello(self) -> None:
        self.dismiss("no hello came within five seconds")

    def _unless_in_time(self, act: Callable[[], None]) -> None:
        """Does this in ``HELLO_S``, in place of what was to be done before."""
        self._in_time()
        self._deadline = asyncio.get_running_loop().call_later(HELLO_S, act)

    def _in_time(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
