"""Typing ahead: keys pressed before the screen has caught up keep their order and their meaning."""

from __future__ import annotations

import asyncio

import pytest
from textual import events
from textual.widgets import Input

from onecrew.commands.cues import Store
from onecrew.commands.light import SetLight, Solo
from onecrew.commands.running import Blackout, Go
from onecrew.errors import Trouble
from onecrew.tui.dialogs.dialog import Dialog
from onecrew.tui.light.screen import Light
from onecrew.tui.rig.finding import FindKind
from onecrew.tui.rig.screen import Rig
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive


async def burst(running: Desk, *keys: str) -> None:
    """All keys at once, as a terminal delivers what was typed while the screen was busy."""
    for key in keys:
        character = {"enter": "\r", "tab": "\t"}.get(key, key if len(key) == 1 else None)
        name = {" ": "space", ".": "full_stop"}.get(key, key)
        running.app.post_message(events.Key(name, character))
    await running.until(lambda: not running.app.ahead._held)
    await running.settle()


def client() -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), dict(ANSWERS))


@drive
async def test_a_line_typed_at_once_is_a_line_and_selects_nothing() -> None:
    async with desk(client(), mode="light") as d:
        await burst(d, *"22 34", "enter", "down", *"4", "enter")
        assert d.sent == [
            SetLight(fixtures=("hood",), level=0.22, cct_k=3400),
            SetLight(fixtures=("lamp",), level=0.04),
        ]


@drive
async def test_what_is_typed_after_the_key_of_a_dialog_goes_into_the_dialog() -> None:
    async with desk(client(), mode="light") as d:
        await burst(d, "S", *"7 Street", "enter", "o")
        assert d.sent == [Store(cue="7", name="Street"), Solo(fixtures=("hood",))]


@drive
async def test_what_is_pasted_comes_after_the_keys_before_it() -> None:
    """The Tab is still on its way to the form's second line when the paste arrives."""
    async with desk(client(), mode="light") as d:
        for name in ("E", "tab", "tab"):
            d.app.post_message(events.Key(name, "\t" if name == "tab" else name))
        d.app.post_message(events.Paste("9s"))
        await d.until(lambda: not d.app.ahead.holds)
        await d.settle()
        await d.press("enter")
        (command,) = d.sent
        assert command.cue.fade.in_s == 9.0 and "9s" not in command.cue.name


@pytest.mark.parametrize(
    ("keys", "typed"),
    [
        (("ctrl+u",), "xy"),
        (("ctrl+a", "ctrl+k"), "xy"),
        (("ctrl+w",), "xy"),
        (("shift+home",), "xy"),
        (("ctrl+a", "ctrl+d", "end"), "oodxy"),
        (("home", "delete", "ctrl+e", "backspace"), "ooxy"),
    ],
)
@drive
async def test_letters_behind_a_key_that_changes_the_line_stay(keys: tuple[str, ...], typed: str) -> None:
    """The library does such a key after the letters that were typed right behind it, and takes them away."""
    async with desk(client(), mode="rig") as d:
        await d.press("Y")
        await burst(d, *keys, *"xy")
        assert d.app.screen.query_one(Input).value == typed


@drive
async def test_two_dialogs_one_after_the_other() -> None:
    async with desk(client(), mode="rig") as d:
        await burst(d, "a", *"bico", "enter", *"xenia", "tab", *"edge", "enter")
        (command,) = d.sent
        assert (command.fixture.id, command.fixture.role) == ("xenia", "edge")


@drive
async def test_what_is_typed_before_the_profiles_are_there_waits_for_them() -> None:
    async with desk(client(), mode="rig") as d:
        screen = d.app.base_screen
        assert isinstance(screen, Rig)
        screen.kinds = ()
        d.client.stalled = asyncio.Event()
        for key in ("a", *"bico", "enter", *"xenia", "enter"):
            d.app.post_message(events.Key(key, "\r" if key == "enter" else key))
        await d.until(lambda: isinstance(d.app.screen, FindKind))
        assert "Loading the profiles" in d.page() and d.sent == []
        d.client.stalled.set()
        await d.until(lambda: bool(d.sent))
        assert [command.fixture.id for command in d.sent] == ["xenia"]


@drive
async def test_a_question_answered_at_once() -> None:
    async with desk(client(), mode="light") as d:
        await burst(d, "f", "v", ".")
        assert [command.kind for command in d.sent] == ["set", "blackout"]


@drive
async def test_a_clicker_reaches_the_engine_through_a_dialog_that_opens() -> None:
    async with desk(client(), mode="shoot") as d:
        await burst(d, "n", "pagedown")
        assert d.sent == [Go()]


@drive
async def test_a_second_enter_on_its_way_answers_no_dialog_twice() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("S", *"7")
        field = d.app.screen.query_one(Input)
        for _ in range(2):
            field.post_message(Input.Submitted(field, "7 Street"))
        await d.settle()
        assert d.sent == [Store(cue="7", name="Street")]
        assert isinstance(d.app.screen, Light)


@pytest.mark.parametrize("open_dialog", ["p", "a", "L", "C"])
@drive
async def test_a_dialog_that_is_answered_closes_no_other_that_is_open_by_then(open_dialog: str) -> None:
    async with desk(client(), mode="rig") as d:
        await d.press(open_dialog)
        first = d.app.screen
        assert isinstance(first, Dialog)
        await d.press("escape", "p")
        second = d.app.screen
        first.dismiss(None)
        await d.settle()
        assert d.app.screen is second and d.sent == []


@drive
async def test_what_is_typed_while_the_engine_is_asked_for_a_list_is_meant_for_the_list() -> None:
    start = FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "breakdown": Trouble("no look")})
    async with desk(start, mode="log") as d:
        d.client.stalled = asyncio.Event()
        for key in ("k", "b", "pagedown", "full_stop"):  # b is blackout on Log, a breakdown in the list
            d.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await d.settle()
        assert d.sent == [Go(), Blackout()], "the clicker's keys do not wait"
        d.client.stalled.set()
        await d.until(lambda: not d.app.ahead.holds)
        await d.settle()
        assert d.sent == [Go(), Blackout()]
        assert "breakdown" in [topic for topic, _ in d.client.asked]


@drive
async def test_what_is_typed_for_a_list_that_does_not_come_does_nothing() -> None:
    start = FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "takes": Trouble("the log is away")})
    async with desk(start, mode="log") as d:
        d.client.stalled = asyncio.Event()
        for key in ("k", "b"):
            d.app.post_message(events.Key(key, key))
        await d.settle()
        d.client.stalled.set()
        await d.until(lambda: "the log is away" in d.page())
        assert d.sent == [] and not d.app.ahead.holds
        await d.press("b")
        assert d.sent == [Blackout()]
