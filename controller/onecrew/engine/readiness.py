"""Readiness: whether everything that the engine was asked to open is open, which its ``ready`` waits for."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping

LOOK_S = 0.1
"""How often it is looked, until everything is open; one that stays closed must cost next to nothing."""

NotOpen = Callable[[], Mapping[str, str]]
"""Gives what is wanted and not open, by name, and the sentence that says why; empty while it is opening."""


async def until_all_open(not_open: NotOpen, say: Callable[[str], None]) -> None:
    """Returns once everything is open; ``say`` takes a sentence for each thing that cannot be opened."""
    said: set[str] = set()
    while waiting := not_open():
        for why in waiting.values():
            if why and why not in said:
                said.add(why)
                say(f"{why}; it is tried again until it opens, the light is up, and ready comes then")
        await asyncio.sleep(LOOK_S)
