"""The palette finds every action of every screen, every lamp, cue, scene and take, from every screen."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from onecrew.commands.cue_list import Learn
from onecrew.commands.running import Hold, Recall
from onecrew.commands.scenes import OpenScene
from onecrew.show.show import Cue, Scene
from onecrew.terminal import acts
from onecrew.tui import palette
from onecrew.tui.app import OnecrewApp
from onecrew.tui.base import BaseScreen
from onecrew.tui.palette import Finder, Palette
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

HOLD = "Hold every fade and effect, or release them"
YARD = Scene(name="Yard", cues=(Cue(number="21", name="Van arrives"), Cue(number="22", name="Doors")))


def client() -> FakeClient:
    show = bakery.show().model_copy(update={"other_scenes": (YARD,)})
    return FakeClient(show, bakery.snapshot(), dict(ANSWERS))


async def hits(finder: Finder, words: str) -> dict[str, Any]:
    """What is found by typing these words: the name of each hit, and what it does."""
    return {str(hit.prompt): hit.command async for hit in finder.search(words)}


async def finder_of(d: Desk) -> Finder:
    assert isinstance(d.app.screen, BaseScreen)
    finder = Finder(d.app.screen)
    await finder.startup()
    await d.settle()
    return finder


def bound(d: Desk) -> set[str]:
    """Names of the actions that keys are bound to on the present screen."""
    chain = d.app.screen._binding_chain
    bindings = [one for _, each in chain for shared in each.key_to_bindings.values() for one in shared]
    return {one.action[5:-2] for one in bindings if one.action.startswith("act('")}


@pytest.mark.parametrize("mode", OnecrewApp.MODES)
@drive
async def test_every_action_that_any_screen_binds_is_found(mode: str) -> None:
    async with desk(client(), mode=mode) as d:
        finder = await finder_of(d)
        walked = 0
        for other in OnecrewApp.MODES:
            d.app.turn_to(other)
            await d.settle()
            screen = d.app.base_screen
            assert screen is not None
            names = bound(d)
            actions = [action for action in screen.all_actions() if action.name in names]
            assert {action.name for action in actions} == names
            for action in actions:
                walked += 1
                assert action.words in await hits(finder, action.words), (other, action.name)
        assert walked > 100


@pytest.mark.parametrize("mode", OnecrewApp.MODES)
@drive
async def test_every_lamp_cue_scene_and_take_is_found(mode: str) -> None:
    async with desk(client(), mode=mode) as d:
        finder, show = await finder_of(d), bakery.show()
        for fixture in show.rig.fixtures:
            assert any(name.startswith(f"Lamp {fixture.id}") for name in await hits(finder, fixture.id))
        for cue in show.cues:
            assert f"Recall cue {cue.number} {cue.name}" in await hits(finder, cue.name)
        assert "Recall cue 21 Van arrives in Yard" in await hits(finder, "van arrives")
        assert any(name.startswith("Open the scene Yard") for name in await hits(finder, "scene yard"))
        assert any(name.startswith(f"Scene {show.scene}") for name in await hits(finder, show.scene))
        found = await hits(finder, "take a/1")
        assert any(name.startswith("Take A/1 2 Before four the door was late") for name in found)


@drive
async def test_what_is_found_of_another_screen_is_done_there() -> None:
    async with desk(client()) as d:
        finder = await finder_of(d)
        (run,) = (
            run for name, run in (await hits(finder, "Add a lamp: find")).items() if "Add a lamp" in name
        )
        run()
        await d.until(lambda: d.app.current_mode == "rig" and "FindKind" in repr(d.app.screen))
        assert d.sent == []


@drive
async def test_what_this_screen_has_is_done_here() -> None:
    async with desk(client()) as d:
        (await hits(await finder_of(d), HOLD))[HOLD]()
        await d.settle()
        assert d.sent == [Hold()] and d.app.current_mode == "shoot"


@drive
async def test_a_lamp_is_chosen_and_a_cue_of_another_scene_opens_its_scene() -> None:
    async with desk(client(), mode="log") as d:
        finder = await finder_of(d)
        found = await hits(finder, "lamp fridge")
        next(run for name, run in found.items() if name.startswith("Lamp fridge"))()
        await d.settle()
        assert (d.app.current_mode, d.app.cursor.id) == ("light", "fridge")
        (await hits(finder, "van arrives"))["Recall cue 21 Van arrives in Yard"]()
        await d.settle()
        assert d.sent == [OpenScene(name="Yard"), Recall(cue="21")]


@drive
async def test_a_take_is_shown_in_the_list_of_takes() -> None:
    async with desk(client()) as d:
        found = await hits(await finder_of(d), "take a/1")
        next(run for name, run in found.items() if name.startswith("Take A/1"))()
        await d.until(lambda: "▸ A/1" in d.page())


@drive
async def test_the_rest_is_found_while_the_takes_do_not_come() -> None:
    async with desk(client()) as d:
        assert isinstance(d.app.screen, BaseScreen)
        finder = Finder(d.app.screen)
        d.client.stalled = asyncio.Event()
        await finder.startup()
        first = await anext(aiter(finder.search("recall cue 3 ovens on")))
        assert "Ovens on" in str(first.prompt)


@drive
async def test_typing_in_the_palette_runs_what_is_found() -> None:
    async with desk(client(), mode="plan") as d:
        await d.press("ctrl+p", *"van", "space", *"arrives")
        await d.until(lambda: "Van arrives in Yard" in d.page())
        await d.press("enter")
        await d.until(lambda: len(d.sent) == 2)
        assert d.sent == [OpenScene(name="Yard"), Recall(cue="21")]


@drive
async def test_two_clicks_beside_the_palette_close_the_palette_alone() -> None:
    async with desk(client()) as d:
        await d.press("ctrl+p")
        await d.until(lambda: isinstance(d.app.screen, Palette))
        palette = d.app.screen
        for _ in range(2):  # as the handler of a click does
            palette.dismiss()
        await d.until(lambda: isinstance(d.app.screen, BaseScreen))
        await d.settle()
        assert d.app.is_running and isinstance(d.app.screen, BaseScreen)


@drive
async def test_the_last_take_is_learnt() -> None:
    async with desk(client()) as d:
        finder = await finder_of(d)
        (learn,) = (
            run for name, run in (await hits(finder, "learn")).items() if name.startswith("Learn the")
        )
        learn()
        await d.settle()
        assert d.sent == [Learn()]


@drive
async def test_a_key_is_named_where_there_is_one_and_the_screen_where_it_is_another() -> None:
    async with desk(client(), mode="light") as d:
        screen = d.app.base_screen
        assert screen is not None
        said = {name: key for name, key, _ in palette._actions(screen)}
        assert said["Store the present look as a cue"] == "key Shift+S"
        assert said["Lock the light for a second pass, or unlock it"] == "key l on Shoot"
        [learn] = [key for name, key in said.items() if name.startswith("Learn the last take")]
        assert learn == "on Shoot"


@drive
async def test_nothing_that_a_show_names_acts_on_the_terminal_or_is_taken_for_markup() -> None:
    name = "x\x1b[2J\x9b31m\u202eevil[/b] [red]"
    hostile = Scene(name=name, cues=(Cue(number="21", name=name),))
    show = bakery.show().model_copy(update={"other_scenes": (hostile,)})
    async with desk(FakeClient(show, bakery.snapshot(), dict(ANSWERS))) as d:
        finder = await finder_of(d)
        listed = [str(hit.prompt) async for hit in finder.discover()]
        for found in (listed, list(await hits(finder, "evil"))):
            told = [one for one in found if "evil" in one]
            assert told and all("evil[/b] [red]" in one for one in told)
            assert not [one for one in found if any(map(acts, one))]
