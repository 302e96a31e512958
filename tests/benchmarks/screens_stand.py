"""The screens in a terminal of their own, on a client that floods them with fading lamps.

Run by ``bench_screens`` in a pseudo-terminal: ``python -m tests.benchmarks.screens_stand RATE_HZ FILE``.
Every command that the screens send is written to FILE as the monotonic nanoseconds at which it was sent.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import AsyncIterator, Coroutine
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from onecrew.commands.command import Command
from onecrew.show.snapshot import FadeState, LightState, Snapshot
from onecrew.tui.app import OnecrewApp
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient


class Stand(FakeClient):
    """Six lamps fade up and down for ever."""

    def __init__(self, rate_hz: float, times: Path) -> None:
        super().__init__(bakery.show(), bakery.snapshot(), dict(ANSWERS))
        self._rate_hz = rate_hz
        self._times = times.open("w", buffering=1)
        self._begun = time.monotonic()

    def send_now(self, command: Command, /) -> Coroutine[Any, Any, bool]:
        self._times.write(f"{time.monotonic_ns()}\n")
        return super().send_now(command)

    async def events(self) -> AsyncIterator[Any]:
        while True:
            await asyncio.sleep(1 / self._rate_hz if self._rate_hz else 3600)
            # As the link does: JSON in, a checked snapshot out.
            self.snapshot = Snapshot.model_validate_json(self._state().model_dump_json())
            yield self.snapshot

    def _state(self) -> Snapshot:
        progress = ((time.monotonic() - self._begun) / 4.0) % 1.0
        lights: dict[str, LightState] = {}
        for index, (name, light) in enumerate(bakery.snapshot().lights.items()):
            level = (progress + index / 6) % 1.0
            green = int(80 + 150 * level)
            lights[name] = light.model_copy(
                update={
                    "level": level,
                    "output": level,
                    "xy": (0.31 + 0.2 * level, 0.33 + 0.08 * level),
                    "swatch": f"#ff{green:02x}{green // 2:02x}",
                    "slots": (int(255 * level), int(65535 * level) % 256),
                    "goal_level": 1.0,
                }
            )
        return bakery.snapshot(lights=lights, fade=FadeState(progress=progress, left_s=4 * (1 - progress)))


def main() -> None:
    stand = Stand(float(sys.argv[1]), Path(sys.argv[2]))
    OnecrewApp(stand, lambda: _seen(stand)).run()


def _seen(stand: Stand) -> list[Any]:
    assert stand.snapshot is not None
    return [
        Lamp(name, light.level, light.xy, light.white.cct_k if light.white else None, light.swatch)
        for name, light in stand.snapshot.lights.items()
    ]


@dataclass(frozen=True)
class Lamp:
    """A lamp as the demo's receiver sees it."""

    id: str
    level: float
    xy: tuple[float, float]
    cct_k: float | None
    swatch: str


if __name__ == "__main__":
    main()
