"""Pictures: each screen as text at 80 × 24 and 140 × 45, against the one that was looked at and kept.

After a wanted change: ``ONECREW_PICTURES=keep pytest tests/tui/test_pictures.py``, then read the diff.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from onecrew.show.snapshot import CountdownState, TakeState
from onecrew.tui.app import OnecrewApp
from onecrew.tui.light.screen import Light
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import WALL, desk, drive

KEPT = Path(__file__).parent / "pictures"


@pytest.mark.parametrize("size", [(80, 24), (140, 45)], ids=["80x24", "140x45"])
@pytest.mark.parametrize("mode", list(OnecrewApp.MODES))
@drive
async def test_the_screen_looks_as_it_was_kept(
    mode: str, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("onecrew.tui.log.lines.LogLine.clock", lambda line: f"at {line.at - 1.7e9:05.1f}")
    state = bakery.snapshot(
        countdown=CountdownState(left_s=7.2, command="go"),
        take=TakeState(setup="A", number=3, running=True, since=WALL - 75),
    )
    async with desk(FakeClient(bakery.show(), state, dict(ANSWERS)), mode=mode, size=size) as d:
        screen = d.app.base_screen
        if isinstance(screen, Light):  # the readings at the subject come when the light has stood still
            await d.until(lambda: bool(screen.readings.now))
        shown = "\n".join(row.rstrip() for row in d.picture()) + "\n"
    kept = KEPT / f"{mode}-{size[0]}x{size[1]}.txt"
    if os.environ.get("ONECREW_PICTURES") == "keep":
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(shown, encoding="utf-8")
    assert shown == kept.read_text(encoding="utf-8")
