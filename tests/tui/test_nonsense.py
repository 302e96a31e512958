"""Nonsense typed or pasted into every field that a key of a screen opens: a sentence, or a sound command."""

from __future__ import annotations

from typing import Any

import pytest
from textual import events
from textual.screen import Screen
from textual.widgets import Input

from onecrew.commands.command import Command
from onecrew.commands.table import parse_command
from onecrew.errors import LONGEST_LINE
from onecrew.tui.app import OnecrewApp
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.choose import Choose
from onecrew.tui.dialogs.form import Form
from onecrew.tui.dialogs.listing import Listing
from onecrew.tui.rig.finding import FindKind
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive
from tests.tui.test_remotes import PAIR

NONSENSE = (
    "", "1e400", "-1e400", "nan", "inf", "-1", "1" * 400, "0" * 10_000, "x" * 10_000, "9" * 5000 + "%",
    "\x1b[2J\x9b31m\x07", "\u202eevil\u2066", "🍞" * 50, "\x00", '"', "'", "../../etc/passwd", "/", "\\",
    "=", ",,,", "%", "²", "٣", "½", "1_000", "0x10", "1e-400", "\ud800", "{}", "[bold]", "127.0.0.1:99999",
    "[::1]", "~nobody/x",
)  # fmt: skip


OF_THE_COMMAND_LINE = (
    "in quotes",
    "'copy'",
    "'renumber'",
    "'times'",
    "needs seconds",
    "'room'",
    "'take note'",
    "'note'",
    "'in' needs",
    "'piece",
    "'look like'",
    'kind: ""',
)
"""What is nothing to type here: a message names the way of the screen that it is on."""


def judge(dialog: Ask[Any] | Form[Any], typed: Any) -> None:
    """What was typed is refused in a sentence of some lines, or is what the engine reads back."""
    try:
        value = dialog.read(typed)
    except ValueError as error:
        assert 0 < len(str(error)) <= LONGEST_LINE, str(error)
        assert not any(words in str(error) for words in OF_THE_COMMAND_LINE), str(error)
        return
    if isinstance(value, Command):
        assert parse_command(value.model_dump(mode="json")) == value


@pytest.mark.parametrize("mode", [*OnecrewApp.MODES])
@drive
async def test_no_form_takes_nonsense_for_a_fault_of_its_own(mode: str) -> None:
    opened = set[str]()
    for action in OnecrewApp.MODES[mode].ACTIONS:  # type: ignore[union-attr]
        first = action.keys[:1]
        dialog = await press_all(mode, *first)
        opened |= {"first"} if isinstance(dialog, Ask | Form) else set()
        if mode in ("shoot", "log", "rig"):  # the list of cues is the same on every screen
            for key in second_keys(dialog):
                behind = await press_all(mode, *first, key)
                opened |= {"second"} if isinstance(behind, Ask | Form) else set()
    assert opened or mode == "colour"
    assert "second" in opened or mode not in ("shoot", "log", "rig")


def second_keys(dialog: Screen[Any]) -> tuple[str, ...]:
    if isinstance(dialog, Listing):
        return tuple(key.key.split(",")[0] for key in dialog.keys)
    return tuple(choice.key for choice in dialog.choices) if isinstance(dialog, Choose) else ()


async def press_all(mode: str, *keys: str) -> Screen[Any]:
    """The dialog that these keys open, given all the nonsense there is."""
    client = FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "pair": PAIR})
    async with desk(client, mode=mode) as d:
        await d.press(*keys)
        dialog = d.app.screen
        if isinstance(dialog, Ask):
            for text in NONSENSE:
                judge(dialog, text)
        elif isinstance(dialog, Form):
            for label in dialog.fields:
                for text in NONSENSE:
                    judge(dialog, {**dialog.fields, label: text})
        return dialog


@pytest.mark.parametrize(
    ("pasted", "typed"),
    [
        ("first\nsecond\r\nthird", "first second third"),
        ("\n\n  late\tsupper \n", "late supper"),
        ("a\x1b[2Jb\x00c\u202ed", "a[2Jbcd"),
        ("\n", ""),
    ],
)
@drive
async def test_all_lines_of_a_paste_are_kept_and_no_character_that_acts(pasted: str, typed: str) -> None:
    async with desk() as d:
        await d.press("T")
        d.app.post_message(events.Paste(pasted))
        await d.settle()
        assert d.app.screen.query_one(Input).value == typed
        await d.press("enter")
        assert d.sent[-1].setup == (typed or None)


@pytest.mark.parametrize("mode", [*OnecrewApp.MODES])
@drive
async def test_a_paste_where_nothing_is_typed_does_nothing(mode: str) -> None:
    async with desk(mode=mode) as d:
        d.app.post_message(events.Paste("1\n2\n.b\x1b q"))
        await d.settle()
        assert d.sent == []


@drive
async def test_profiles_that_are_known_before_the_dialog_stands_are_shown_in_it() -> None:
    async with desk(mode="rig") as d:
        dialog = FindKind((), {})
        dialog.have((), {"lamp.toml": "no modes"})
        assert dialog.broken == {"lamp.toml": "no modes"}
        d.app.push_screen(dialog)
        await d.settle()
        assert dialog.faults() == ["no modes"]
