"""How the tests drive the screens: a fake engine, real keys, no waiting on time."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from typing import Any
from unittest.mock import patch

from textual import events
from textual.pilot import Pilot

from onecrew.tui.app import OnecrewApp
from onecrew.tui.desk import Receiver
from onecrew.tui.drawing.canvas import CanvasWidget
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient

WALL = 1_700_000_000.0


def drive(test: Callable[..., Awaitable[None]]) -> Callable[..., None]:
    """Runs a test written as a coroutine."""

    @functools.wraps(test)
    def run(*args: Any, **kwargs: Any) -> None:
        asyncio.run(test(*args, **kwargs))  # type: ignore[arg-type]

    return run


async def until_quiet(app: OnecrewApp) -> None:
    """Waits until no widget has a message left: rounds of the loop, not time."""
    calm = 0
    for _ in range(2000):
        await asyncio.sleep(0)
        calm = 0 if any(pump.message_queue_size for pump in (app, *app._registry)) else calm + 1
        if calm >= 8:
            return
    raise AssertionError("the screens do not come to rest")


class Hands:
    """The hands of the screens' clock."""

    now = 0.0


class Desk:
    """A running app and its fake engine."""

    def __init__(self, app: OnecrewApp, client: FakeClient, pilot: Pilot[None], hands: Hands) -> None:
        self.app, self.client, self.pilot, self.hands = app, client, pilot, hands

    async def press(self, *keys: str) -> None:
        """Presses keys and lets everything they set off finish."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()
            if self.app.is_running and self.app.ahead.holds:
                await self.until(lambda: not self.app.ahead.holds)
                await self.settle()  # what it held has been taken, and is painted now

    async def settle(self) -> None:
        """Waits until the news told to the client has been painted and every task has run."""
        await until_quiet(self.app)
        if self.app.is_running:
            await self.app.paint()
            await until_quiet(self.app)

    async def type_ahead(self, opener: str, topic: str, *keys: str) -> None:
        """Presses ``opener``, for which the engine is asked, and ``keys`` long before it answers."""
        self.client.stalled = stalled = asyncio.Event()
        rounds = iter(range(12))
        for key in (opener, *keys):
            self.app.post_message(events.Key(key, key if len(key) == 1 else None))
            if key == opener:
                await self.until(lambda: self.client.asked[-1:] != [] and self.client.asked[-1][0] == topic)
        before = len(self.sent)
        await self.until(lambda: len(self.sent) > before or next(rounds) == 11)  # at rest again by then
        assert self.sent[before:] == [] and self.app.ahead.holds
        stalled.set()
        await self.until(lambda: not self.app.ahead.holds)
        await self.settle()

    async def tell(self, event: Any) -> None:
        self.client.tell(event)
        await self.settle()

    async def change(self, **fields: Any) -> None:
        self.client.change(**fields)
        await self.settle()

    async def until(self, condition: Callable[[], bool]) -> None:
        """Waits for something that Textual does on a timer of its own, such as laying out anew."""
        for _ in range(300):
            await self.settle()
            if condition():
                return
            await asyncio.sleep(0.01)
        raise AssertionError("it never came to that")

    @property
    def sent(self) -> list[Any]:
        return self.client.sent

    def text(self) -> str:
        """Everything that the live parts of the screen say."""
        return "\n".join(drawn.text() for drawn in self.app.screen.query(CanvasWidget) if drawn.display)

    def page(self) -> str:
        """The whole screen as one line of words, for sentences that wrap."""
        return " ".join(" ".join(self.picture()).replace("│", " ").split())

    def picture(self) -> list[str]:
        """The whole screen as it is composed, row by row."""
        strips = self.app.screen._compositor.render_strips()
        return [strip.text for strip in strips]


@asynccontextmanager
async def desk(
    client: FakeClient | None = None,
    *,
    size: tuple[int, int] = (80, 24),
    mode: str = "shoot",
    receiver: Receiver | None = None,
) -> AsyncIterator[Desk]:
    """The bakery's screens, running."""
    client = client or FakeClient(bakery.show(), bakery.snapshot())
    hands = Hands()
    app = OnecrewApp(client, receiver, wall=lambda: WALL, clock=lambda: hands.now)

    async def at_rest(*_args: float, **_kwargs: float) -> None:
        await until_quiet(app)

    # Pilot waits for idle processor time, 20 ms at least; waiting for empty queues is surer and faster.
    with (
        patch("textual.app.wait_for_idle", at_rest),
        patch("textual.pilot.wait_for_idle", at_rest),
        patch("textual.pilot.Pilot._wait_for_screen", _screen_is_there),
    ):
        async with app.run_test(size=size) as pilot:
            yield await _started(Desk(app, client, pilot, hands), mode)


async def _started(running: Desk, mode: str) -> Desk:
    if mode != "shoot":
        running.app.turn_to(mode)
    await running.settle()
    return running


async def _screen_is_there(_pilot: Pilot[None], timeout: float = 0) -> bool:
    return True
