"""The list of cues that # opens: recall by number, blind changes, copies, numbers, order, times, delete."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.commands.command import Command
from onecrew.commands.cue_list import CopyCue, CopyTimes, RenumberCue, SetInCues
from onecrew.commands.cues import PutCue, RemoveCue
from onecrew.commands.light import SetLight
from onecrew.commands.running import Recall
from onecrew.errors import Refused
from onecrew.show.base import cue_order
from onecrew.show.numbers import number_between
from onecrew.show.show import Cue, Scene, Show
from onecrew.tui.app import OnecrewApp
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive


def client(**changes: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**changes), dict(ANSWERS))


def hood(*cues: str, **light: float) -> SetInCues:
    return SetInCues(cues=cues, change=SetLight(fixtures=("hood",), **light))


TWO = bakery.show().cue("2")
assert TWO is not None


@pytest.mark.parametrize("mode", ["shoot", "light", "rig"])
@pytest.mark.parametrize(
    ("keys", "command"),
    [
        (["5", "enter"], Recall(cue="5")),
        (["down", "enter"], Recall(cue="3")),
        (["home", "enter"], Recall(cue="1")),
        (["end", "enter"], Recall(cue="6")),
        (["e", *"Dusk", "enter"], PutCue(cue=TWO.model_copy(update={"name": "Dusk"}))),
        (["l", "tab", "tab", *"22 34", "enter"], hood("2", level=0.22, cct_k=3400)),
        (["3", "l", *"3,5", "tab", "tab", *"-1s", "enter"], hood("3", "5", stops_by=-1)),
        (["l", "tab", *"key", "tab", *"9%", "enter"], hood("2", level=0.09)),
        (["c", "enter"], CopyCue(cue="2", to="7")),
        (["4", "c", *"4.5", "enter"], CopyCue(cue="4", to="4.5")),
        (["n", *"2.5", "enter"], RenumberCue(cue="2", to="2.5")),
        (["t", *"3,5", "enter"], CopyTimes(cue="2", to=("3", "5"))),
        (["x"], RemoveCue(number="2")),
        (["3", "shift+up"], RenumberCue(cue="3", to="1.5")),
        (["shift+up"], RenumberCue(cue="2", to="0.5")),
        (["4", "shift+down"], RenumberCue(cue="4", to="5.5")),
        (["5", "shift+down"], RenumberCue(cue="5", to="7")),
    ],
)
@drive
async def test_what_is_done_with_a_cue_is_one_command(mode: str, keys: list[str], command: Command) -> None:
    async with desk(client(), mode=mode) as d:
        await d.press("number_sign", *keys)
        assert d.sent == [command]


@drive
async def test_a_cue_without_a_digit_is_recalled_by_typing_its_number() -> None:
    cues = (*bakery.show().cues, Cue(number="12", name="Street"), Cue(number="12.5"))
    show = bakery.show().model_copy(update={"cues": cues})
    async with desk(FakeClient(show, bakery.snapshot(), dict(ANSWERS))) as d:
        await d.press("number_sign", *"12", "enter", "number_sign", *"12.5", "enter")
        assert d.sent == [Recall(cue="12"), Recall(cue="12.5")]


@pytest.mark.parametrize(
    ("typed", "key"), [("25", "enter"), ("25", "x"), ("1.7", "enter"), ("9", "shift+up")]
)
@drive
async def test_a_number_that_no_cue_has_does_nothing_with_another_cue(typed: str, key: str) -> None:
    async with desk(client()) as d:
        await d.press("number_sign", *typed)
        said = f"there is no cue {typed} in this scene; it has 1, 2, 3, 4, 5"
        await d.until(lambda: said in d.page())
        await d.press(key)
        await d.until(lambda: "Backspace takes a digit away" in d.page())
        assert d.sent == []
        await d.press(*["backspace"] * len(typed), "3", "enter")
        assert d.sent == [Recall(cue="3")]


@drive
async def test_the_beginning_of_a_number_goes_to_its_cue_and_does_nothing_with_it() -> None:
    show = bakery.show().model_copy(update={"cues": (Cue(number="3"), Cue(number="12"))})
    async with desk(FakeClient(show, bakery.snapshot(cue="3"), dict(ANSWERS))) as d:
        await d.press("number_sign", "1", "enter")
        await d.until(lambda: "there is no cue 1 in this scene; it has 3, 12" in d.page())
        assert d.sent == []
        await d.press("2", "enter")
        assert d.sent == [Recall(cue="12")]


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_the_list_says_what_is_now_next_and_kept(size: tuple[int, int]) -> None:
    async with desk(client(kept_edits={"5": ("hood",)}), size=size) as d:
        await d.press("number_sign")
        page = d.page()
        assert "2 Before four · now · fade 3.0 s" in page and "3 Ovens on · next" in page
        assert "5 Second pass · edits kept" in page and "undo brings it back" in page
        await d.press("x")
        assert "Cue 2 deleted: u brings it back." in d.page()


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (["l", *"2,9", "tab", "tab", "5", "enter"], "there is no cue 9 in this scene"),
        (["l", "tab", *"hod", "tab", "5", "enter"], "there is no fixture or role 'hod'"),
        (["l", "enter"], "type a level"),
        (["n", *"two", "enter"], "is no cue number"),
        (["t", *"x", "enter"], "no list of cue numbers"),
    ],
)
@drive
async def test_what_cannot_be_meant_is_said_and_nothing_is_sent(keys: list[str], said: str) -> None:
    async with desk(client(), mode="light") as d:
        await d.press("number_sign", *keys)
        assert said in d.page() and d.sent == []


@drive
async def test_the_first_cue_cannot_come_earlier_nor_the_last_later() -> None:
    async with desk(client()) as d:
        await d.press("number_sign", "1", "shift+up")
        assert "Cue 1 is the first already" in d.text()
        await d.press("number_sign", "6", "shift+down")
        assert "Cue 6 is the last already" in d.text() and d.sent == []


@drive
async def test_an_empty_list_says_how_a_cue_is_made() -> None:
    async with desk(FakeClient(Show(name="New"), bakery.snapshot(cue=None), dict(ANSWERS))) as d:
        await d.press("number_sign")
        assert "No cues yet: build a look on F3" in d.page()
        await d.press("enter", "number_sign", "x")
        assert d.sent == [] and isinstance(d.app, OnecrewApp)


@pytest.mark.parametrize(
    ("low", "high", "number"),
    [("2", "3", "2.5"), ("2", "5", "3"), ("2", "2.5", "2.2"), ("2.5", "3", "2.7"), ("", "1", "0.5"),
     ("7", "", "8"), ("2.10", "3", "2.505"), ("3.5", "", "4")],
)  # fmt: skip
def test_a_number_between_two(low: str, high: str, number: str) -> None:
    found = number_between(Show(name="A"), low, high)
    assert found == number
    assert cue_order(low or "0") < cue_order(found) and (not high or cue_order(found) < cue_order(high))


def test_a_number_of_another_scene_is_not_offered_and_none_may_be_left() -> None:
    other = Scene(name="B", cues=(Cue(number="2.5"), Cue(number="3")))
    show = Show(name="A", other_scenes=(other,))
    assert number_between(show, "2", "4") not in ("2.5", "3")
    with pytest.raises(Refused, match=r"no number is free between 2 and 2\.1"):
        number_between(show, "2", "2.1")
