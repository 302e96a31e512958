"""The start screen: what each key leads to, and the way through a new show."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from unittest.mock import patch

import pytest

from onecrew.commands.light import Identify
from onecrew.commands.rig import PutFixture
from onecrew.show.new import new_show
from onecrew.tui.app import OnecrewApp
from onecrew.tui.start import Chosen, Shows, StartApp
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, Hands, drive

RECENT = (Path("/shows/baker.json"), Path("/shows/kitchen.json"))


def existing(text: str) -> Path:
    if text not in map(str, RECENT):
        raise ValueError(f"there is no show {text}")
    return Path(text)


def new(name: str, text: str, make: bool) -> Path:
    if not name:
        raise ValueError("A show needs a name")
    return Path("/shows") / text


async def outcome(
    keys: Sequence[str], recent: tuple[Path, ...] = RECENT, size: tuple[int, int] = (80, 24)
) -> tuple[Chosen | None, str, bool]:
    """(what was chosen, what the screen says at the end, whether it ended)."""
    app = StartApp(Shows(recent, existing, new))
    async with app.run_test(size=size) as pilot:
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        said = " ".join(strip.text for strip in app.screen._compositor.render_strips())
        ended = app._exit
    return app.return_value, " ".join(said.split()), ended


@pytest.mark.parametrize(
    ("keys", "chosen"),
    [
        (["enter"], Chosen("open", "/shows/baker.json")),
        (["down", "enter"], Chosen("open", "/shows/kitchen.json")),
        (["n", "enter"], Chosen("new", "/shows/new-show.json")),
        (["d"], Chosen("demo")),
        (["o", *"/shows/kitchen.json", "enter"], Chosen("open", "/shows/kitchen.json")),
        (["q"], None),
        (["escape"], None),
    ],
)
@drive
async def test_one_key_leads_on(keys: list[str], chosen: Chosen | None) -> None:
    answer, _, ended = await outcome(keys)
    assert ended and answer == chosen


@drive
async def test_a_wrong_path_is_said_and_asked_again() -> None:
    _, said, ended = await outcome(["o", *"attic.json", "enter"])
    assert "there is no show attic.json" in said and not ended
    _, said, ended = await outcome(["enter"], recent=(Path("/shows/gone.json"),))
    assert "Open which show?" in said and not ended


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_the_recent_shows_and_every_key_are_on_the_screen(size: tuple[int, int]) -> None:
    _, said, _ = await outcome([], size=size)
    for words in ("baker.json · /shows", "kitchen.json", "new show", "demo:", "by its path", "quit"):
        assert words in said
    _, said, _ = await outcome([], recent=(), size=size)
    assert "No show was opened yet" in said


@pytest.mark.parametrize(("answer", "said"), [("y", "F3 opens Light"), ("n", "universe 1, address 1")])
@drive
async def test_a_new_show_leads_from_the_first_lamp_to_the_first_look(answer: str, said: str) -> None:
    client = FakeClient(new_show("Kitchen"), bakery.snapshot(lights={}, cue=None), dict(ANSWERS))
    app = OnecrewApp(client, first_run=True, clock=lambda: 0.0)
    with patch("textual.pilot.Pilot._wait_for_screen", _there):
        async with app.run_test(size=(80, 24)) as pilot:
            d = Desk(app, client, pilot, Hands())
            await d.settle()
            assert "a adds the first lamp" in d.page(), "Rig is open and says the next step"
            assert "multicast" in d.page() and "press p first" in d.page()
            await d.press("a", *"bulb", "enter", "enter")
            assert "Set the menu of" in d.page() and "universe 1, address 1" in d.page()
            fixture = next(one.fixture for one in client.sent if isinstance(one, PutFixture))
            assert client.sent[-1] == Identify(fixtures=(fixture.id,), briefly=True)
            await d.press(answer)
            assert client.sent[-1] == Identify()
            assert said in d.page()


async def _there(_pilot: object, timeout: float = 0) -> bool:
    await asyncio.sleep(0)
    return True
