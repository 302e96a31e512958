"""Letters on Shoot that must be read from 4 m: their cap height on a 14-inch screen.

Measured on the cells as they leave for the terminal: a letter of blocks is as high as the half rows that it
fills. A row is as high as a 14-inch screen of 16 : 9 divided by the rows of a window that fills it.
"""

from __future__ import annotations

import asyncio
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

from rich.style import Style
from textual.strip import Strip

from onecrew.show.snapshot import CountdownState, TakeState
from onecrew.tui import theme
from tests.benchmarks.report import Row
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import WALL, desk

SCREEN_MM = 14 * 25.4 * 9 / math.hypot(16, 9)
"""Height of a screen with a diagonal of 14 inches."""
LEAST_MM = 4000 * math.tan(math.radians(5 / 60))
"""5 arc minutes at 4 m: the letter that normal sight just reads (ISO 8596: a Landolt ring of 5 arc minutes
has a gap of 1 at visual acuity 1.0; from memory)."""
INK = {"█": (0, 1), "▀": (0,), "▄": (1,), "▌": (0, 1), "▐": (0, 1)}
PUNCTUATION = 4
"""Half rows below which it is a dash or a dot."""
SIZES = ((80, 24), (140, 45))
STATES: tuple[dict[str, Any], ...] = (
    {
        "countdown": CountdownState(left_s=7.2, command="go"),
        "take": TakeState(setup="A", number=3, running=True, since=WALL - 75),
    },
    {"locked": True, "blackout": True},
)
SAID = {
    theme.NOW: "what is now, and the take",
    theme.NEXT: "what comes next, and the countdown",
    theme.STRONG: "their names",
    theme.WARN: "states",
    theme.SHOUT: "states",
}


def rows() -> Iterator[Row]:
    for width, height in SIZES:
        row_mm = SCREEN_MM / height
        found = asyncio.run(_heights(width, height))
        for said, half_rows in sorted(found.items()):
            least = min(half_rows) / 2
            yield Row(
                f"{width} × {height}, {said}",
                f"{least:g} rows of {row_mm:.2f} mm: {least * row_mm:.1f} mm",
                "",
                f"≥ {LEAST_MM:.1f} mm",
                least * row_mm >= LEAST_MM,
            )


async def _heights(width: int, height: int) -> dict[str, list[int]]:
    """By what they say: the heights of the letters of blocks, in half rows."""
    found: dict[str, list[int]] = defaultdict(list)
    for state in STATES:
        client = FakeClient(bakery.show(), bakery.snapshot(fade=None, **state))
        async with desk(client, size=(width, height)) as d:
            for style, said in SAID.items():
                found[said] += _letters(d.app.screen._compositor.render_strips(), style)
    return {said: heights for said, heights in found.items() if heights}


def _letters(strips: Sequence[Strip], style: Style) -> Iterator[int]:
    """Heights of the letters of blocks in this style, in half rows: what hangs together is one letter."""
    ink: set[tuple[int, int]] = set()
    for y, strip in enumerate(strips):
        x = 0
        for segment in strip:
            if segment.style == style:
                for at, sign in enumerate(segment.text, x):
                    ink |= {(at, 2 * y + half) for half in INK.get(sign, ())}
            x += segment.cell_length
    while ink:
        letter, edge = set(), [ink.pop()]
        while edge:
            x, y = edge.pop()
            letter.add(y)
            near = {(x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)} & ink
            ink -= near
            edge += near
        height = max(letter) - min(letter) + 1
        if height >= PUNCTUATION:
            yield height
