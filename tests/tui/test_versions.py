"""Versions of the show on Log: listed, looked at, brought back; and the manual that F1 leads to."""

from __future__ import annotations

import re
from typing import Any

import pytest
from textual.containers import VerticalScroll

from onecrew.commands.session import BringBack, SettleFile
from onecrew.manual import page, topics
from onecrew.show.snapshot import Saved
from onecrew.tui.app import OnecrewApp
from onecrew.tui.dialogs.page import Page
from onecrew.tui.drawing.markdown import as_text
from onecrew.tui.palette import Finder
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

VERSIONS = {
    "versions": [
        {"number": 11, "at": 1.7e9, "changed": "cue 3 changed", "now": False},
        {"number": 12, "at": 1.7e9 + 60, "changed": "oven added", "now": True},
    ]
}
ONE = {"changes": "oven deleted", "lines": ["The Night Baker", "hood: panel-cct-tint/16-bit at 1.1"]}


def client(**answers: Any) -> FakeClient:
    given = {**ANSWERS, "versions": VERSIONS, "version": ONE, **answers}
    return FakeClient(bakery.show(), bakery.snapshot(), given)


@drive
async def test_versions_are_listed_newest_first_with_what_changed() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("*")
        rows = [row for row in d.picture() if "changed" in row or "added" in row]
        assert ["what changed" in rows[0], "oven added" in rows[1], "cue 3 changed" in rows[2]] == [True] * 3
        assert "as it is now" in rows[1] and "as it is now" not in rows[2]


@drive
async def test_a_version_is_looked_at_and_brought_back() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("*", "down", "enter")
        assert ("version", {"number": 11}) in d.client.asked
        assert "Bringing it back changes: oven deleted" in d.page() and "hood: panel-cct-tint" in d.page()
        assert d.sent == [], "a look changes nothing"
        await d.press("escape")
        assert "▸ 11" in d.page()
        await d.press("r")
        assert d.sent == [BringBack(number=11)]
        assert "Version 11 is back: u takes that back." in d.page()


@drive
async def test_a_file_that_another_program_changed_is_settled_there() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("*", "t")
        assert d.sent == [], "the show is in its file"
        await d.press("escape")
        await d.change(saved=Saved(ok=False, error="The disk is full."))
        await d.press("*", "t", "k")
        assert d.sent == [], "nobody else wrote to the file"
        await d.press("escape")
        await d.change(saved=Saved(ok=False, error="changed by another program", outside=True))
        await d.press("*", "t", "*", "k")
        assert d.sent == [SettleFile(take=True), SettleFile(take=False)]


@drive
async def test_a_show_without_versions_says_so() -> None:
    async with desk(client(versions={"versions": []}), mode="log") as d:
        await d.press("*")
        assert "No version is kept yet" in d.page()
        await d.press("r")
        assert d.sent == [] and "No version is kept yet" in d.page()


@pytest.mark.parametrize("mode", OnecrewApp.MODES)
def test_the_manual_begins_with_the_topic_of_the_screen_and_has_them_all(mode: str) -> None:
    @drive
    async def scene() -> None:
        async with desk(client(), mode=mode, size=(80, 40)) as d:
            screen = d.app.base_screen
            assert screen is not None
            first = topics()[screen.TOPIC]
            await d.press("f1", "m")
            listed = [row for row in d.picture() if "│" in row]
            assert any(f"▸ {first}" in row for row in listed)
            assert all(any(title in row for row in listed) for title in topics().values())
            await d.press("enter")
            beginning = " ".join(first.split()[:4])
            await d.until(lambda: isinstance(d.app.screen, Page) and beginning in d.page())
            assert isinstance(d.app.screen, Page)
            assert d.app.screen.text == str(as_text(page(screen.TOPIC)))
            page_of = d.app.screen.query_one(VerticalScroll)
            await d.press("right")
            await d.until(lambda: page_of.scroll_y > 0 or page_of.max_scroll_y == 0)
            await d.press("left")
            await d.until(lambda: page_of.scroll_y == 0)
            assert d.sent == []
            await d.press("escape", "escape")
            assert d.app.screen is screen

    scene()


@drive
async def test_every_topic_is_in_the_palette() -> None:
    async with desk(client()) as d:
        screen = d.app.base_screen
        assert screen is not None
        offered = {name: run for name, _, run in Finder(screen).entries()}
        assert all(f"Manual: {title}" in offered for title in topics().values())
        offered[f"Manual: {topics()['wifi']}"]()
        await d.until(lambda: "Wi-Fi" in d.page())
        assert isinstance(d.app.screen, Page) and d.app.screen.text == str(as_text(page("wifi")))


def test_marked_text_is_what_is_written_without_its_marks() -> None:
    source = (
        "# Title\n\nOne **strong** word,\nand `a code|b`.\n\n```sh\nrun  it | so\n```\n\n"
        "| name | what |\n|---|---|\n| `x\\|y` | [a link](https://example.invalid) |\n- one\n- two"
    )
    text = as_text(source)
    lines = [line for line in str(text).splitlines() if line]
    assert lines == ["Title", "One strong word, and a code|b.", "  run  it | so", "name · what",
                     "x|y · a link", "- one", "- two"]  # fmt: skip
    bold = {str(text)[span.start : span.end].strip() for span in text.spans if span.style == "bold"}
    assert bold == {"Title", "strong", "a code|b", "name", "x|y"}


@pytest.mark.parametrize("topic", topics())
def test_no_word_of_a_topic_is_lost_on_its_page(topic: str) -> None:
    shown = "".join(str(as_text(page(topic))).split())
    for word in re.findall(r"[\w.]{4,}", re.sub(r"\]\([^)]*\)|```\w*", " ", page(topic))):
        assert word in shown, word


@drive
async def test_where_nothing_changed_undo_is_not_promised() -> None:
    async with desk(client(), mode="log") as d:
        d.client.changes = False
        await d.press("*", "r")
        assert "Nothing has changed" in d.page() and "u takes" not in d.page()
