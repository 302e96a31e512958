"""Shoot: one keystroke an action; what reached the engine first, what the screen says second."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.session import Redo, Undo
from onecrew.commands.takes import Note, TakeClip, TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.show.advise import SHOOT_KEYS
from onecrew.show.snapshot import CountdownState, TakeState
from onecrew.tui.actions import characters
from onecrew.tui.shoot.keys import SHOOT
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import WALL, desk, drive

ROLLING = TakeState(setup="A", number=3, running=True, since=WALL - 75)


@pytest.mark.parametrize(
    ("key", "command"),
    [
        ("pagedown", Go()),
        ("space", Go()),
        ("pageup", Back()),
        ("full_stop", Blackout()),
        ("b", Blackout()),
        ("h", Hold()),
        ("l", Lock()),
        ("d", Countdown(seconds=10, command=Go())),
        ("t", TakeStart()),
        ("u", Undo()),
        ("U", Redo()),
        ("ctrl+z", Undo()),
        ("ctrl+y", Redo()),
        ("minus", Master(level=0.95)),
        ("3", Recall(cue="3")),
        ("x", Recall(cue="6")),
    ],
)
@drive
async def test_one_key_sends_one_command(key: str, command: Any) -> None:
    async with desk() as d:
        await d.press(key)
        assert d.sent == [command]


@pytest.mark.parametrize(
    ("state", "key", "command"),
    [
        ({"countdown": CountdownState(left_s=4, command="go")}, "d", CancelCountdown()),
        ({"take": ROLLING}, "t", TakeEnd()),
        ({"take": ROLLING}, "g", TakeEnd(good=True)),
        ({"take": ROLLING}, "G", TakeEnd(good=False)),
        ({"master": 0.5}, "plus", Master(level=0.55)),
        ({"master": 0.98}, "plus", Master(level=1.0)),
        ({"master": 0.02}, "minus", Master(level=0.0)),
    ],
)
@drive
async def test_a_key_follows_the_state(state: dict[str, Any], key: str, command: Any) -> None:
    async with desk(FakeClient(bakery.show(), bakery.snapshot(**state))) as d:
        await d.press(key)
        assert d.sent == [command]


def test_the_keys_of_the_screen_are_those_that_a_shortcut_is_advised_against() -> None:
    assert characters(SHOOT) == SHOOT_KEYS


@drive
async def test_a_clicker_works_while_typing_and_in_dialogs() -> None:
    async with desk() as d:
        await d.press("n", "g", "pagedown", "pageup")
        assert d.sent == [Go(), Back()]
        await d.press("escape", "f1", "pagedown")
        assert d.sent == [Go(), Back(), Go()]


@drive
async def test_a_stray_key_while_locked_does_nothing_but_say_so() -> None:
    async with desk(FakeClient(bakery.show(), bakery.snapshot(locked=True))) as d:
        await d.press("y")
        assert d.sent == []
        assert "locked" in d.text() and "l unlocks" in d.text()


@drive
async def test_a_stray_key_is_said_to_be_no_cues() -> None:
    async with desk() as d:
        await d.press("y")
        assert d.sent == []
        assert "No cue has the shortcut y" in d.text()


@drive
async def test_what_was_refused_is_forgotten_when_a_cue_runs() -> None:
    async with desk() as d:
        await d.press("Z")
        assert "No cue has the shortcut Z" in d.page()
        await d.press("3")
        assert d.sent == [Recall(cue="3")] and "shortcut Z" not in d.page()


@drive
async def test_a_refusal_is_said_in_the_engines_words() -> None:
    async with desk() as d:
        d.client.refusal = Refused("the light is locked: unlock it first")
        await d.press("3")
        assert "✗ the light is locked: unlock it first" in d.text()


@drive
async def test_g_without_a_take_says_how_to_start_one() -> None:
    async with desk() as d:
        await d.press("g")
        assert d.sent == []
        assert "t starts one" in d.text()


@drive
async def test_a_countdown_of_other_seconds_to_something_else() -> None:
    async with desk() as d:
        await d.press("D", *"8", "space", *"recall", "space", "3", "enter")
        assert d.sent == [Countdown(seconds=8, command=Recall(cue="3"))]
        await d.press("d")
        assert d.sent[-1] == Countdown(seconds=8, command=Recall(cue="3")), "d starts the same one again"


@drive
async def test_a_countdown_that_makes_no_sense_says_what_would() -> None:
    async with desk() as d:
        await d.press("D", *"soon", "enter")
        assert d.sent == []
        assert any(("soon" in row and "time" in row) or "countdown" in row for row in d.picture())
        await d.press("escape")
        assert not d.sent


@drive
async def test_a_setup_and_a_note() -> None:
    async with desk() as d:
        await d.press("T", *"B2", "enter", "n", *"good", "enter")
        assert d.sent == [TakeStart(setup="B2"), Note(text="good", take=True)]
        await d.press("V", *"A003C012", "enter")
        assert d.sent[2:] == [TakeClip(name="A003C012")]


@pytest.mark.parametrize(
    ("typed", "command"),
    [
        ("B", TakeStart(setup="B")),
        ("B from 3", TakeStart(setup="B", chain_from="3")),
        ("from 2.5", TakeStart(chain_from="2.5")),
        ("B from black 2.5", TakeStart(setup="B", chain_from="2.5", from_black=True)),
        ("the far room", TakeStart(setup="the far room")),
    ],
)
@drive
async def test_what_can_be_typed_for_a_take(typed: str, command: TakeStart) -> None:
    async with desk() as d:
        await d.press("T", *("space" if letter == " " else letter for letter in typed), "enter")
        assert d.sent == [command]


@drive
async def test_a_note_says_whether_it_is_of_the_take_that_rolls() -> None:
    for running, said in ((True, "Note on this take"), (False, "Note on the last take")):
        take = TakeState(setup="A", number=3, running=running, since=0.0)
        async with desk(FakeClient(bakery.show(), bakery.snapshot(take=take))) as d:
            await d.press("n")
            await d.until(lambda said=said: said in d.page())  # type: ignore[misc]
