"""Scenes on the screens: the list that F9 opens, the palette, the name of the open one."""

from __future__ import annotations

import pytest

from onecrew.commands.command import Command
from onecrew.commands.scenes import NewScene, OpenScene, RemoveScene, RenameFixture, RenameScene
from onecrew.show.scenes import with_scenes
from onecrew.show.show import Cue, Scene, Show
from onecrew.tui.app import OnecrewApp
from onecrew.tui.base import BaseScreen
from onecrew.tui.palette import Finder
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive


def two_scenes() -> Show:
    show = bakery.show().model_copy(update={"scene": "Opening"})
    opening = Scene(name="Opening", cues=show.cues)
    return with_scenes(show, (opening, Scene(name="Delivery", cues=(Cue(number="8"),))), "Opening")


def client(show: Show | None = None) -> FakeClient:
    return FakeClient(show or two_scenes(), bakery.snapshot(), dict(ANSWERS))


@pytest.mark.parametrize("mode", ["shoot", "light", "rig"])
@pytest.mark.parametrize(
    ("keys", "command"),
    [
        (["down", "enter"], OpenScene(name="Delivery")),
        (["a", *"Yard", "enter"], NewScene(name="Yard")),
        (["A", *"Yard", "enter"], NewScene(name="Yard", empty=True)),
        (["e", "end", "space", *"two", "enter"], RenameScene(name="Opening two")),
        (["e", "home", "delete", "o", "enter"], RenameScene(name="opening")),
        (["down", "x"], RemoveScene(name="Delivery")),
    ],
)
@drive
async def test_f9_lists_the_scenes_and_does_what_is_asked(
    mode: str, keys: list[str], command: Command
) -> None:
    async with desk(client(), mode=mode) as d:
        await d.press("f9", *keys)
        assert d.sent == [command]


@drive
async def test_the_list_says_which_scene_is_open_and_how_many_cues_each_has() -> None:
    async with desk(client()) as d:
        await d.press("f9")
        page = d.page()
        assert "Opening · 6 cues · open" in page and "Delivery · 1 cue" in page
        await d.press("escape")
        assert d.sent == [] and d.app.base_screen is d.app.screen


@drive
async def test_a_name_that_is_taken_is_said_before_anything_is_sent() -> None:
    async with desk(client()) as d:
        await d.press("f9", "a", *"delivery", "enter")
        assert "there is a scene delivery already" in d.page()
        await d.press("escape")
        assert d.sent == []


@pytest.mark.parametrize("mode", list(OnecrewApp.MODES))
@drive
async def test_the_palette_has_the_scenes_on_every_screen(mode: str) -> None:
    async with desk(client(), mode=mode) as d:
        screen = d.app.base_screen
        assert isinstance(screen, BaseScreen)
        entries = {name: run for name, _, run in Finder(screen).entries()}
        assert {"Add an empty scene", "Rename the scene Opening"} <= entries.keys()
        entries["Open the scene Delivery"]()
        entries["Delete the scene Delivery"]()
        await d.settle()
        assert d.sent == [OpenScene(name="Delivery"), RemoveScene(name="Delivery")]


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_the_open_scene_is_named_where_there_are_several(size: tuple[int, int]) -> None:
    async with desk(client(), size=size) as d:
        assert "F9 Opening" in d.picture()[0] and "output ok" in d.picture()[0]
        assert "NOW  Opening" in d.text()
        await d.press("f3")
        assert "CUES OF Opening" in d.text()
    async with desk(client(bakery.show()), size=size) as d:
        assert "F9" not in d.picture()[0]


@pytest.mark.parametrize("name", ["Opening", "Opening, the long night of day two"])
@drive
async def test_the_scene_and_trouble_stand_beside_one_another_or_the_scene_goes(name: str) -> None:
    document = bakery.show().model_dump(mode="json")
    document["other_scenes"], document["scene"] = [{"name": "Delivery"}], name
    silent = bakery.snapshot().outputs[0].model_copy(update={"state": "failing", "error": "no route"})
    snapshot = bakery.snapshot(outputs=(silent,))
    for size in ((80, 24), (90, 24), (140, 45)):
        async with desk(FakeClient(Show.model_validate(document), snapshot, dict(ANSWERS)), size=size) as d:
            head = d.picture()[0]
            assert "F4" in head[-12:]
            if size[0] == 80:
                assert "F9" not in head
            else:
                assert f"F9 {name[:4]}" in head


@drive
async def test_a_lamp_is_renamed_on_rig_and_the_cursor_stays_on_it() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("Y", *"oven", "enter")
        assert "oven is taken" in d.page() and d.sent == []
        await d.press("home", "shift+end", *"hoover", "enter")
        assert d.sent == [RenameFixture(id="hood", to="hoover")]
        assert d.app.cursor.id == "hoover"
