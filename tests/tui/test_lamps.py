"""The chosen lamp is the same one on every screen that lists lamps, and the one just patched."""

from __future__ import annotations

import pytest

from onecrew.commands.light import Identify, SetLight, Solo
from onecrew.commands.running import Hold
from onecrew.show.show import Fixture, Rig
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive


def client() -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), dict(ANSWERS))


@drive
async def test_a_lamp_chosen_on_one_screen_is_chosen_on_the_others() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("down", "down", "f4", "i", "f8", "w")
        assert d.sent == [Identify(fixtures=("oven",)), SetLight(fixtures=("oven",), mired_by=10)]


@pytest.mark.parametrize("mode", ["light", "rig", "colour"])
@drive
async def test_home_and_end_choose_the_first_and_the_last_lamp(mode: str) -> None:
    show = bakery.show()
    async with desk(client(), mode=mode) as d:
        await d.press("down", "end")
        assert d.app.cursor.id == show.rig.fixtures[-1].id
        await d.press("up", "home")
        assert d.app.cursor.id == show.rig.fixtures[0].id


@drive
async def test_a_lamp_just_patched_is_the_chosen_one_once_the_engine_has_it() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"bico", "enter", *"glow", "enter")
        fixture: Fixture = d.sent[0].fixture
        show = bakery.show()
        await d.change(message="glow is patched")  # a state comes before the show does
        rig = show.rig.model_copy(update={"fixtures": (*show.rig.fixtures, fixture)})
        await d.tell(show.model_copy(update={"rig": rig}))
        await d.press("i")
        assert d.sent[1:] == [Identify(fixtures=("glow",))]


@drive
async def test_a_lamp_taken_out_leaves_its_neighbour_chosen() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press(*["down"] * 5)
        show = bakery.show()
        await d.tell(show.model_copy(update={"rig": Rig(fixtures=show.rig.fixtures[:5])}))
        await d.press("i")
        assert d.sent == [Identify(fixtures=("sky",))]


@drive
async def test_a_remark_goes_when_the_next_thing_is_done() -> None:
    async with desk(client(), mode="shoot") as d:
        await d.press("z")
        assert "No cue has the shortcut z" in d.text()
        await d.press("h")
        assert "No cue has the shortcut z" not in d.text() and d.sent == [Hold()]


@drive
async def test_escape_takes_the_marks_away() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("a", "escape", "o")
        assert d.sent == [Solo(fixtures=("hood",))]
