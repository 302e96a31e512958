"""How the tests drive the screens: a fake engine, real keys, no waiting on time."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from typing import Any

from textual.pilot import Pilot

from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tui.app import LampwrightApp, Room
from tui.canvas import Drawn

WALL = 1_700_000_000.0


def drive(test: Callable[..., Awaitable[None]]) -> Callable[..., None]:
    """Runs a test written as a coroutine."""

    @functools.wraps(test)
    def run(*args: Any, **kwargs: Any) -> None:
        asyncio.run(test(*args, **kwargs))  # type: ignore[arg-type]

    return run


class Desk:
    """A running app and its fake engine."""

    def __init__(self, app: LampwrightApp, client: FakeClient, pilot: Pilot[None]) -> None:
        self.app, self.client, self.pilot = app, client, pilot

    async def press(self, *keys: str) -> None:
        """Presses keys and lets everything they set off finish."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()

    async def settle(self) -> None:
        """Waits until the news told to the client has been painted and every task has run."""
        for _ in range(3):
            await asyncio.sleep(0)
        await self.pilot.pause()
        if self.app.is_running:
            self.app._paint()
            await self.pilot.pause()

    async def tell(self, event: Any) -> None:
        self.client.tell(event)
        await self.settle()

    async def change(self, **fields: Any) -> None:
        self.client.change(**fields)
        await self.settle()

    @property
    def sent(self) -> list[Any]:
        return self.client.sent

    def text(self) -> str:
        """Everything that the live parts of the screen say."""
        return "\n".join(drawn.text() for drawn in self.app.screen.query(Drawn) if drawn.display)

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
    room: Room | None = None,
) -> AsyncIterator[Desk]:
    """The bakery's screens, running."""
    client = client or FakeClient(bakery.show(), bakery.snapshot())
    app = LampwrightApp(client, room, wall=lambda: WALL)
    async with app.run_test(size=size) as pilot:
        running = Desk(app, client, pilot)
        if mode != "shoot":
            app.turn_to(mode)
        await running.settle()
        yield running
