"""A run of stills on the Light screen, by keys and by the clicker."""

from __future__ import annotations

from typing import Any

from onecrew.commands.running import Blackout, Go
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Refused
from onecrew.stills.guided import SETTLE_S, SHUTTER_S
from onecrew.tui.stills import Stills
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

PLANNED = {
    "stills": [
        {"file": "", "lamp": None},
        {"file": "", "lamp": "hood", "output": 1.0, "cct_k": 2700.0, "duv": 0.0},
        {"file": "", "lamp": "hood", "output": 1.0, "cct_k": 6500.0, "duv": 0.0},
    ]
}


def client() -> FakeClient:
    answers = {**ANSWERS, "stills": PLANNED, "keep-stills": {"file": "night-baker-stills.json"}}
    return FakeClient(bakery.show(), bakery.snapshot(), answers)


async def later(d: Desk, seconds: float) -> None:
    """Time goes by; the engine shows what was asked for last."""
    stills = [one for one in d.sent if isinstance(one, ShowStill)]
    await d.change(still=None if stills[-1].off else stills[-1].words)
    screen = d.app.screen
    assert isinstance(screen, Stills)
    for _ in range(round(seconds / 0.1)):
        d.hands.now += 0.1
        screen.look()
    await d.settle()


def lights(d: Desk) -> list[tuple[Any, ...]]:
    return [
        (one.fixture, one.cct_k, one.output) if not one.off else ("off",)
        for one in d.sent
        if isinstance(one, ShowStill) and not one.again
    ]


@drive
async def test_the_clicker_goes_through_the_run_and_the_list_is_kept() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", "enter")
        assert ("stills", {"lamps": [], "one_white": False}) in d.client.asked
        assert any("1 of 3: every lamp out" in row for row in d.picture())
        for _ in range(3):
            await later(d, SETTLE_S + 0.2)
            await d.press("pagedown")
        assert not any(isinstance(one, Go) for one in d.sent)
        assert lights(d) == [(None, None, 1.0), ("hood", 2700.0, 1.0), ("hood", 6500.0, 1.0), ("off",)]
        topic, kept = d.client.asked[-1]
        assert topic == "keep-stills"
        assert [(one["lamp"], one.get("cct_k")) for one in kept["stills"]] == [
            (None, None),
            ("hood", 2700.0),
            ("hood", 6500.0),
        ]
        assert all(one["taken"] for one in kept["stills"])
        assert any("night-baker-stills.json" in row for row in d.picture())


@drive
async def test_what_is_typed_while_the_run_is_planned_is_meant_for_the_run() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J")
        await d.type_ahead("enter", "stills", "up")  # on Light it makes the lamp brighter
        assert any("1 of 3" in row for row in d.picture())
        assert [type(one) for one in d.sent] == [ShowStill]


@drive
async def test_one_still_is_one_still() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", "enter")
        await later(d, SETTLE_S + 0.2)
        await d.press("pagedown", "escape")
        assert "· 1 still taken, listed in night-baker-stills.json" in d.page()


@drive
async def test_the_light_is_asked_for_as_long_as_the_run_is_open() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", "enter")
        await later(d, 4 * KEEP_EVERY_S + 0.5)
        again = [one for one in d.sent if isinstance(one, ShowStill) and one.again]
        assert len(again) in (3, 4, 5)
        await d.press("escape")
        assert lights(d) == [(None, None, 1.0), ("off",)]
        assert any("No still was taken" in row for row in d.picture())


@drive
async def test_a_countdown_goes_by_itself_and_is_read_from_afar() -> None:
    async with desk(client(), mode="light", size=(140, 45)) as d:
        await d.press("J", "tab", "tab", *["backspace"] * 4, *"5s", "enter")
        await later(d, SETTLE_S + 1.0)
        assert sum("█" in row for row in d.picture()) >= 9
        assert any("counting down" in row for row in d.picture())
        await later(d, 5.0 + SHUTTER_S)
        assert any("2 of 3: hood alone at 2700 K" in row for row in d.picture())


@drive
async def test_less_and_back_and_blackout() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", "enter")
        await later(d, 1.0)
        await d.press("space")
        await later(d, 1.0)
        await d.press("minus", "full_stop")
        assert lights(d)[-1] == ("hood", 2700.0, 0.5)
        assert d.sent[-1] == Blackout()
        await d.press("pageup")
        assert lights(d)[-1] == (None, None, 1.0)


@drive
async def test_what_takes_the_light_pauses_the_run_until_it_is_taken_up_again() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", "enter")
        await later(d, 1.0)
        await d.change(still=None)
        screen = d.app.screen
        assert isinstance(screen, Stills)
        screen.look()
        await d.settle()
        assert any("something else changed the light" in row for row in d.picture())
        await d.press("pagedown")
        assert lights(d)[-1] == (None, None, 1.0)
        assert screen.run.at == 0 and not screen.run.paused


@drive
async def test_a_locked_desk_says_so() -> None:
    fake = client()
    fake.refusal = Refused("the light is locked, so nothing was done: unlock first")
    async with desk(fake, mode="light") as d:
        await d.press("J", "enter")
        screen = d.app.screen
        assert isinstance(screen, Stills)
        d.hands.now += SETTLE_S + 0.1
        screen.look()
        await d.settle()
        assert any("the light is locked" in row for row in d.picture())


@drive
async def test_a_form_that_makes_no_sense_is_not_begun() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("J", *["backspace"] * 3, *"stove", "enter")
        assert not any(topic == "stills" for topic, _ in d.client.asked)
