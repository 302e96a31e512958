"""Client: one end of the link, for the screens, the command line and the demo.

It attaches to the engine of a show, starting one where none runs, and stays attached: when the engine goes
away and comes back, ``events`` says ``Lost`` and ``Healed`` and goes on. Where engine and supervisor are both
gone without an orderly end, nobody else would bring the light back: a client that may start an engine starts
one, which takes up the look from the live state.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
from collections.abc import AsyncIterator, Coroutine
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from onecrew.commands.command import Command
from onecrew.engine.changes import patched
from onecrew.engine.endpoint import Endpoint, files_of, is_abandoned, is_alive, known_as, read_endpoint
from onecrew.engine.launch import BorrowedEngine, start_engine
from onecrew.engine.protocol import HOST, LINE_LIMIT, REPLY_S, reply_s
from onecrew.errors import Refused, Trouble
from onecrew.network.json_lines import pack, unpack
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot

RETRY_S = 0.05
START_S = 8.0
"""How long an engine is given to come up."""
RESTART_S = 2.0
"""How long an engine that died is waited for whose supervisor lives."""
START_AGAIN_S = 3.0
"""How soon an engine is started again that could not be, or that went at once."""


@dataclass(frozen=True, slots=True)
class Lost:
    """The engine went away, and the client looks for it. Lamps hold what they were sent last, for a while."""

    reason: str
    stopped: bool = False
    """It was ended in good order: it faded to black first."""
    given_up: bool = False
    """Nothing brings it back but another try, which failed: no light leaves. ``reason`` says why."""


@dataclass(frozen=True, slots=True)
class Healed:
    """The engine is back."""


Event = Snapshot | Show | Lost | Healed
Asked = tuple[int, asyncio.Future[dict[str, Any]]]
"""The number of a message to the engine, and its answer."""


class Client:
    """An attached client. Make one with ``Client.attach``."""

    def __init__(self, show_path: Path, rate_hz: float, *, starts: bool, borrows: bool = False) -> None:
        self.show_path = show_path
        self.started = False
        """Whether this client started the engine that it attached to."""
        self._starts = starts
        self._borrows = borrows
        self._borrowed: BorrowedEngine | None = None
        """What an engine that this client started for itself ends with."""
        self.snapshot: Snapshot | None = None
        """The latest state heard."""
        self.show: Show | None = None
        """The latest version of the document heard."""
        self.attached = False
        self._rate_hz = rate_hz
        self._files = files_of(show_path)
        self._numbers = itertools.count(1)
        self._waiting: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._listeners: set[asyncio.Queue[Event | None]] = set()
        self._writer: asyncio.StreamWriter | None = None
        self._reader_task: asyncio.Task[None] | None = None
        self._goodbye = ""
        self._stopped = False
        self._closed = False

    @classmethod
    async def attach(
        cls,
        show_path: Path | str,
        *,
        start: bool = True,
        resume: bool = False,
        borrow: bool = False,
        timeout_s: float = START_S,
        rate_hz: float = 15.0,
    ) -> Self:
        """Attaches to the engine of a show and waits for its first state.

        With ``start``, starts an engine where none runs, now or later; with ``resume`` only in place of one
        that went without an orderly end, now. With ``borrow``, an engine that it starts ends with this
        process, whatever ends that, unless the client was closed before. Raises ``Trouble`` with a sentence
        where there is no engine, or none comes up within ``timeout_s``.
        """
        client = cls(known_as(Path(show_path)), rate_hz, starts=start, borrows=borrow)
        try:
            async with asyncio.timeout(timeout_s):
                if not await client._connect() and not await client._comes_back():
                    client.started = start or (resume and is_abandoned(client._files.endpoint))
                    if not client.started:
                        raise Trouble(
                            f"no engine runs for {show_path}: start one with `onecrew open {show_path}`"
                        )
                    await client._start()
                    while not await client._connect():
                        await asyncio.sleep(RETRY_S)
                client._reader_task = asyncio.create_task(client._keep_attached())
                while client.snapshot is None or client.show is None:
                    await client._next_event_or_end()
        except TimeoutError:
            await client.close()
            raise Trouble(
                f"the engine of {show_path} did not answer within {timeout_s:g} s: see {client._files.log}"
            ) from None
        except BaseException:
            await client.close()
            raise
        return client

    async def send(self, command: Command) -> bool:
        """Has the engine carry out a command; raises ``Refused`` with its words or ``Trouble``.

        False where the show was so before, and there is nothing that undo would take back.
        """
        return await self.send_now(command)

    def send_now(self, command: Command) -> Coroutine[Any, Any, bool]:
        """The same on the loop's own thread: the command has left when this returns; await its answer."""
        asked = self._put({"command": command.model_dump(mode="json", exclude_none=True)})
        return self._carried_out(asked)

    async def ask(self, topic: str, /, **arguments: Any) -> dict[str, Any]:
        """Puts a question to the engine; raises as ``send`` does."""
        reply = await self._reply(self._put({"ask": topic, "with": arguments}), reply_s(topic))
        return dict(reply["answer"])

    async def events(self) -> AsyncIterator[Event]:
        """Yields states, shows, ``Lost`` and ``Healed`` as they come, until the client is closed.

        A listener that is slow gets the newest state, not all of them.
        """
        queue: asyncio.Queue[Event | None] = asyncio.Queue()
        self._listeners.add(queue)
        try:
            while (event := await queue.get()) is not None:
                if isinstance(event, Snapshot) and event is not self.snapshot:
                    continue  # a newer one is behind it in the queue
                yield event
        finally:
            self._listeners.discard(queue)

    async def close(self) -> None:
        """Detaches. The engine and its light stay."""
        self._closed = True
        if self._reader_task is not None:
            self._reader_task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._reader_task
        self._drop("the client was closed")
        borrowed, self._borrowed = self._borrowed, None
        if borrowed is not None:
            # Without a state it never came to use.
            borrowed.drop() if self.snapshot is None else borrowed.release()
        self._tell(None)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    async def _connect(self) -> bool:
        """Tries once to reach the engine; true when it welcomed us."""
        endpoint = self._endpoint()
        if endpoint is None:
            return False
        try:
            reader, writer = await asyncio.open_connection(HOST, endpoint.port, limit=LINE_LIMIT)
            writer.write(pack({"hello": {"token": endpoint.token}}))
            welcome = unpack(await reader.readline())
        except (OSError, ValueError):
            return False
        if "welcome" not in welcome:
            writer.close()
            return False
        writer.write(pack({"watch": {"rate_hz": self._rate_hz}}))
        self._reader, self._writer = reader, writer
        self._goodbye = ""
        self._stopped = False
        self.attached = True
        return True

    async def _comes_back(self) -> bool:
        """Waits for an engine that its supervisor starts again; false if nobody does."""
        patience = asyncio.get_running_loop().time() + RESTART_S
        while asyncio.get_running_loop().time() < patience:
            if read_endpoint(self._files.endpoint) is None or is_abandoned(self._files.endpoint):
                return False
            await asyncio.sleep(RETRY_S)
            if await self._connect():
                return True
        return False

    def _endpoint(self) -> Endpoint | None:
        endpoint = read_endpoint(self._files.endpoint)
        return endpoint if endpoint is not None and is_alive(endpoint.pid) else None

    async def _keep_attached(self) -> None:
        while True:
            reason = await self._read_until_gone()
            self._drop(reason)
            if self._closed:
                return
            self._tell(Lost(reason, self._stopped))
            await asyncio.sleep(RETRY_S)
            while not await self._connect():
                if self._starts and is_abandoned(self._files.endpoint):
                    await self._start_again()
                else:
                    await asyncio.sleep(RETRY_S)
            self._tell(Healed())

    async def _start(self) -> None:
        if self._borrowed is not None:
            self._borrowed.drop()  # of an engine that is gone
        self._borrowed = await start_engine(self.show_path, borrowed=self._borrows)

    async def _start_again(self) -> None:
        """Starts an engine in place of one that nobody else brings back, or says that no light leaves."""
        try:
            async with asyncio.timeout(START_S):
                await self._start()
        except (Trouble, OSError, TimeoutError) as error:
            why = str(error) or f"it did not come up within {START_S:g} s"
            self._tell(Lost(f"the engine cannot be started again: {why}", given_up=True))
            await asyncio.sleep(START_AGAIN_S)

    async def _read_until_gone(self) -> str:
        try:
            while line := await self._reader.readline():
                self._receive(unpack(line))
        except (OSError, ValueError) as error:
            return f"the link to the engine broke ({error})"
        return self._goodbye or "the engine went away"

    def _receive(self, message: dict[str, Any]) -> None:
        if "snapshot" in message:
            self.snapshot = Snapshot.model_validate(message["snapshot"])
            self._tell(self.snapshot)
        elif "changes" in message and self.snapshot is not None:
            self.snapshot = patched(self.snapshot, message["changes"])
            self._tell(self.snapshot)
        elif "show" in message:
            self.show = Show.model_validate(message["show"])
            self._tell(self.show)
        elif "goodbye" in message:
            self._goodbye = str(message["goodbye"])
            self._stopped = message.get("stopped") is True
        else:
            waiting = self._waiting.pop(message.get("id", 0), None)
            if waiting is not None and not waiting.done():
                waiting.set_result(message)

    def _put(self, message: dict[str, Any]) -> Asked | None:
        """Puts a message to the engine; None while there is none."""
        if self._writer is None:
            return None
        number = next(self._numbers)
        waiting = self._waiting[number] = asyncio.get_running_loop().create_future()
        self._writer.write(pack({"id": number, **message}))
        return number, waiting

    async def _carried_out(self, asked: Asked | None) -> bool:
        return bool((await self._reply(asked, REPLY_S))["changed"])

    async def _reply(self, asked: Asked | None, patience_s: float) -> dict[str, Any]:
        if asked is None:
            if self._stopped:
                raise Trouble("the engine was stopped, so nothing was done: quit, and open the show again")
            raise Trouble("the engine is away, so nothing was done: wait until it is back")
        number, waiting = asked
        try:
            async with asyncio.timeout(patience_s):
                reply = await waiting
        except TimeoutError:
            raise Trouble(f"the engine did not answer within {patience_s:g} s") from None
        finally:
            self._waiting.pop(number, None)
        if "refused" in reply:
            raise Refused(reply["refused"])
        return reply

    def _drop(self, reason: str) -> None:
        self.attached = False
        if self._writer is not None:
            self._writer.close()
            self._writer = None
        for waiting in self._waiting.values():
            if not waiting.done():
                waiting.set_exception(Trouble(f"{reason}, and the command may not have been carried out"))
        self._waiting.clear()

    def _tell(self, event: Event | None) -> None:
        for queue in self._listeners:
            queue.put_nowait(event)

    async def _next_event_or_end(self) -> None:
        queue: asyncio.Queue[Event | None] = asyncio.Queue()
        self._listeners.add(queue)
        try:
            await queue.get()
        finally:
            self._listeners.discard(queue)
