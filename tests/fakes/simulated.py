"""An event loop whose time is the test's own: it jumps to the next timer, late by as much as was set."""

from __future__ import annotations

import asyncio
import selectors
from collections.abc import Callable
from typing import Any


class Jumping(selectors.SelectSelector):
    """Waits for nothing: where the loop would sleep, its clock jumps."""

    def __init__(self, late: Callable[[], float], now: float) -> None:
        super().__init__()
        self.now = now
        self._late = late

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        events: list[Any] = super().select(0)
        if not events and timeout is not None and timeout > 0:
            self.now += timeout + self._late()
        return events


class SimulatedLoop(asyncio.SelectorEventLoop):
    """Runs coroutines in simulated time. Sockets and threads behind it are real."""

    def __init__(self, now: float, late: Callable[[], float] = lambda: 0.0) -> None:
        self._jumping = Jumping(late, now)
        super().__init__(self._jumping)

    def time(self) -> float:
        return self._jumping.now

    def advance(self, for_s: float) -> None:
        """Lets time pass, as work that takes so long does."""
        self._jumping.now += for_s
