"""The list of takes on Log: look sheet, record, restored look, breakdown, exports."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from onecrew.commands.cue_list import Learn
from onecrew.commands.cues import PutCue
from onecrew.commands.scenes import NewScene
from onecrew.commands.takes import TakeRecord
from onecrew.show.show import Cue
from onecrew.terminal import acts
from onecrew.tui import files
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive


def client(**answers: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, **answers})


def asked(d: Desk, topic: str) -> dict[str, Any]:
    """What was asked about a topic the last time."""
    return next(arguments for said, arguments in reversed(d.client.asked) if said == topic)


async def in_list(d: Desk, *keys: str) -> None:
    await d.press("k", *keys)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The pages that the browser was given."""
    found: list[Path] = []

    def opens(file: Path) -> bool:
        found.append(file)
        return True

    monkeypatch.setattr(files, "browser_opens", opens)
    return found


@drive
async def test_takes_are_listed_newest_first_with_all_that_is_on_record() -> None:
    async with desk(client(), mode="log") as d:
        await in_list(d)
        rows = [row for row in d.picture() if "A/" in row]
        assert [row.split("A/")[1][0] for row in rows] == ["2", "1"]
        assert (
            "good" in rows[1] and "14:02:11" in rows[1] and "52 s" in rows[1] and "2 Before four" in rows[1]
        )
        assert "A003C012" in rows[1] and "the door" in rows[1]
        assert "cut short" in rows[0] and "▸" in rows[0]


SETUPS = ("Nahaufnahme am Ofen, von links", "Nahaufnahme am Ofen, von rechts")
ALIKE = {
    "takes": [
        {**ANSWERS["takes"]["takes"][0], "id": 50 + n, "setup": setup, "number": number}
        for n, (setup, number) in enumerate([(SETUPS[0], 1), (SETUPS[1], 1), (SETUPS[0], 12)])
    ]
}


@drive
async def test_takes_of_setups_whose_long_names_begin_alike_can_be_told_apart() -> None:
    async with desk(client(takes=ALIKE), mode="log", size=(80, 24)) as d:
        await in_list(d)
        names = [row.split("Nah", 1)[1].split()[0] for row in d.picture() if "Nah" in row]
        assert [name.rpartition("…")[2] for name in names] == ["inks/12", "echts/1", "links/1"]
        await d.press("down", "x")
        assert f"Export take {SETUPS[1]}/1 for the edit" in " ".join(d.page().split())


@drive
async def test_the_file_proposed_for_a_take_of_a_long_setup_can_be_written_and_ends_in_its_number() -> None:
    one = {**ANSWERS["takes"]["takes"][0], "setup": "夜" * 79 + "乙", "number": 12}
    async with desk(client(takes={"takes": [one]}, sheet={"file": "/a.md", "of": ""}), mode="log") as d:
        await in_list(d, "enter", "enter")
        to = asked(d, "sheet")["to"]
        assert to.startswith("baker-夜夜") and to.endswith("夜乙-12.html") and len(to.encode()) < 235


@drive
async def test_a_path_that_is_longer_than_a_line_is_said_whole() -> None:
    file = "/shows/" + "the-baker-at-the-oven-" * 6 + "1.edl"
    async with desk(client(export={"file": file}), mode="log", size=(80, 24)) as d:
        await in_list(d, "x", "enter")
        await d.until(lambda: file in "".join(d.page().split()))


@drive
async def test_the_list_fits_into_the_smallest_window_and_uses_a_wide_one() -> None:
    for size, whole in (((80, 24), False), ((140, 45), True)):
        async with desk(client(), mode="log", size=size) as d:
            await in_list(d)
            picture = "\n".join(d.picture())
            assert "Esc       go back" in picture
            assert ("the door was late, use the start" in picture) == whole


def test_the_look_sheet_of_a_take_is_written_and_opened(opened: list[Path]) -> None:
    @drive
    async def scene() -> None:
        sheet = {"file": "/shows/night-baker-a-1.html", "of": "take 1 of setup A"}
        async with desk(client(sheet=sheet), mode="log") as d:
            await in_list(d, "down", "enter", "enter")
            await d.until(lambda: bool(opened))
            await d.settle()
            assert asked(d, "sheet") == {"to": "baker-a-1.html", "take": 40}
            assert "/shows/night-baker-a-1.html, opened in the browser" in d.page()

    scene()
    assert opened == [Path("/shows/night-baker-a-1.html")]


def test_a_sheet_that_is_no_page_and_one_of_what_shows_now(opened: list[Path]) -> None:
    @drive
    async def scene() -> None:
        async with desk(client(sheet={"file": "/shows/now.md", "of": ""}), mode="log") as d:
            await in_list(d, "up", "enter", *"now.md", "enter")
            await d.settle()
            assert asked(d, "sheet") == {"to": "now.md"}
            assert "what shows now: /shows/now.md" in d.page()

    scene()
    assert opened == []


def test_a_sheet_of_a_cue_from_the_list_of_cues(opened: list[Path]) -> None:
    @drive
    async def scene() -> None:
        async with desk(client(sheet={"file": "/shows/c.html", "of": ""})) as d:
            await d.press("#", "3", "s", "enter")
            await d.until(lambda: bool(opened))
            assert asked(d, "sheet") == {"to": "baker-cue-3.html", "cue": "3"}

    scene()


def test_a_sheet_without_an_ending_is_a_page(opened: list[Path]) -> None:
    @drive
    async def scene() -> None:
        async with desk(client(sheet={"file": "/shows/mine.html", "of": ""})) as d:
            await d.press("#", "3", "s", *["backspace"] * len("baker-cue-3.html"), *"mine", "enter")
            await d.until(lambda: bool(opened))
            assert asked(d, "sheet") == {"to": "mine.html", "cue": "3"}

    scene()


@drive
async def test_where_no_browser_opens_the_path_is_said() -> None:
    with pytest.MonkeyPatch.context() as patch:
        for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
            patch.delenv(name, raising=False)
        patch.setattr("onecrew.tui.files.sys.platform", "linux")
        async with desk(client(sheet={"file": "/shows/a.html", "of": ""}), mode="log") as d:
            await in_list(d, "enter", "enter")
            await d.until(lambda: "no browser opens here" in d.page())
            assert "/shows/a.html" in d.page()


@drive
async def test_a_take_is_judged_and_the_list_is_there_again() -> None:
    async with desk(client(), mode="log") as d:
        await in_list(d, "g", "down", "G")
        assert d.sent == [
            TakeRecord(setup="A", number=2, verdict="good"),
            TakeRecord(setup="A", number=1, verdict="bad"),
        ]
        assert "▸ A/1" in d.page()


@drive
async def test_only_what_was_changed_of_the_record_is_sent() -> None:
    async with desk(client(), mode="log") as d:
        await in_list(d, "down", "e", "tab", "tab", *"use the end", "enter")
        assert d.sent == [TakeRecord(setup="A", number=1, note="use the end")]
        await d.press("e", "x")
        assert "a take is good, bad or open" in d.page()
        await d.press("backspace", *"b", "enter")
        assert d.sent[1:] == [TakeRecord(setup="A", number=1, verdict="bad")]


@drive
async def test_the_look_of_a_take_becomes_a_cue() -> None:
    cue = {"number": "7", "name": "Before four A/1", "look": {"hood": {"level": 0.22}}}
    answer = {"cue": cue, "said": ["oven is not in the rig"]}
    async with desk(client(restore=answer), mode="log") as d:
        await in_list(d, "down", "r")
        assert asked(d, "restore") == {"take": 40}
        assert d.sent == [PutCue(new=True, cue=Cue.model_validate(cue))]
        await d.until(lambda: "Oven is not in the rig." in d.page())
        assert "Cue 7 has the look of take A/1" in d.page()


@drive
async def test_a_breakdown_becomes_a_scene_and_says_how_to_film_it() -> None:
    cues = [{"number": "101", "name": "Build 2: black"}, {"number": "201", "name": "Away 2: all"}]
    answer = {"scene": "Breakdown 2", "cues": cues, "step_s": 4.5, "as_long": False, "build": "101",
              "away": "201"}  # fmt: skip
    async with desk(client(breakdown=answer), mode="log") as d:
        await in_list(d, "down", "b")
        assert d.sent == [NewScene(name="Breakdown 2", cues=tuple(map(Cue.model_validate, cues)))]
        await d.until(lambda: "from black 101" in d.page())
        assert "4.5 s a step" in d.page()


@drive
async def test_an_export_for_the_edit_says_where_it_is() -> None:
    async with desk(client(export={"file": "/shows/bakery-a.edl"}), mode="log") as d:
        await in_list(d, "down", "x", *["backspace"] * 4, *"set", "tab", "tab", "tab", *"12 s", "enter")
        assert asked(d, "export") == {"to": "baker-a.edl", "setup": "A", "fps": 25.0, "sync": "12 s"}
        assert "Written: /shows/bakery-a.edl" in d.page()


@drive
async def test_what_needs_a_take_says_so_of_what_shows_now() -> None:
    async with desk(client(takes={"takes": []}), mode="log") as d:
        await in_list(d, "g")
        assert "That is for a take: t on Shoot starts one." in d.page()
        assert d.sent == []


def test_a_browser_is_asked_in_a_process_that_cannot_write_on_the_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shim, page = tmp_path / "browser", tmp_path / "the page.html"
    shim.write_text(f'#!/bin/sh\necho noise\necho noise >&2\necho "$1" > {tmp_path}/given\n')
    shim.chmod(0o755)
    monkeypatch.setenv("BROWSER", str(shim))
    assert files.browser_opens(page)
    assert (tmp_path / "given").read_text().strip() == page.as_uri()


@drive
async def test_nothing_that_a_terminal_would_obey_comes_from_a_log_or_a_version() -> None:
    nasty = "A\x1b[31mX\u202e\x9b2J"
    take = {**ANSWERS["takes"]["takes"][0], "setup": nasty, "notes": [nasty], "clip": nasty, "cue": nasty}
    versions = {"versions": [{"number": 1, "at": 0.0, "changed": nasty, "now": False}]}
    answers = {
        "takes": {"takes": [take]},
        "versions": versions,
        "version": {"changes": nasty, "lines": [nasty]},
    }
    async with desk(client(**answers), mode="log") as d:
        for keys in (["k"], ["enter"], ["escape", "k", "e"], ["escape", "escape", "asterisk"], ["enter"]):
            await d.press(*keys)
            strips = d.app.screen._compositor.render_strips()
            assert not [char for strip in strips for char in strip.text if acts(char)], keys
            assert "31mX" in d.page(), "what is harmless in it is shown"


def test_a_browser_that_would_write_on_the_screen_is_not_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library falls back on browsers of the terminal where there is no window system."""
    shim = tmp_path / "w3m"
    shim.write_text(f"#!/bin/sh\n: > {tmp_path}/ran\n")
    shim.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    monkeypatch.setenv("TERM", "xterm")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("onecrew.tui.files.sys.platform", "linux")
    assert not files.browser_opens(tmp_path / "page.html")
    assert not (tmp_path / "ran").exists()


@drive
async def test_the_last_take_is_learnt_and_no_other() -> None:
    async with desk(client(), mode="log") as d:
        await in_list(d, "down", "l")
        assert d.sent == [] and "Take A/1 is not the last one" in d.page()
        await in_list(d, "l")
        assert d.sent == [Learn()] and "as in the last take" in d.page()
