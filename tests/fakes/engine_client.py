"""A client of an engine that is not there: it remembers what it was sent and answers as set."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Coroutine
from typing import Any

from onecrew.commands.command import Command
from onecrew.engine.client import Event
from onecrew.errors import OnecrewError
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot


class FakeClient:
    """Has the interface of ``onecrew.engine.client.Client`` that the screens use."""

    def __init__(
        self, show: Show | None, snapshot: Snapshot | None, answers: dict[str, Any] | None = None
    ) -> None:
        self.show = show
        self.snapshot = snapshot
        self.answers: dict[str, Any] = answers or {}
        self.sent: list[Command] = []
        self.asked: list[tuple[str, dict[str, Any]]] = []
        self.refusal: OnecrewError | None = None
        """What the next commands are refused with."""
        self.stalled: asyncio.Event | None = None
        """While set and not fired, replies do not come."""
        self.changes = True
        """Whether the next commands change something."""
        self.closed = False
        self._queue: asyncio.Queue[Event] = asyncio.Queue()

    async def send(self, command: Command, /) -> bool:
        return await self.send_now(command)

    def send_now(self, command: Command, /) -> Coroutine[Any, Any, bool]:
        self.sent.append(command)
        return self._answer()

    async def _answer(self) -> bool:
        if self.stalled is not None:
            await self.stalled.wait()
        if self.refusal is not None:
            raise self.refusal
        return self.changes

    async def ask(self, topic: str, /, **arguments: Any) -> dict[str, Any]:
        self.asked.append((topic, arguments))
        if self.stalled is not None:
            await self.stalled.wait()
        answer = self.answers.get(topic, {})
        if isinstance(answer, OnecrewError):
            raise answer
        if callable(answer):
            answer = answer(**arguments)
        return dict(answer)

    async def events(self) -> AsyncIterator[Event]:
        while True:
            yield await self._queue.get()

    def tell(self, event: Event) -> None:
        """Something arrives from the engine."""
        if isinstance(event, Snapshot):
            self.snapshot = event
        elif isinstance(event, Show):
            self.show = event
        self._queue.put_nowait(event)

    def change(self, **fields: Any) -> Snapshot:
        """A new state arrives that differs from the last in these fields."""
        assert self.snapshot is not None
        snapshot = self.snapshot.model_copy(update=fields)
        self.tell(snapshot)
        return snapshot

    async def close(self) -> None:
        self.closed = True
