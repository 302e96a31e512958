"""Log: lines as they come, filter, notes."""

from __future__ import annotations

from typing import Any

from onecrew.commands.running import Blackout
from onecrew.commands.session import Redo, Undo
from onecrew.commands.takes import Note
from onecrew.show.snapshot import TakeState
from onecrew.tui.log.lines import Lines
from onecrew.tui.log.screen import Log
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS, LOG_LINES
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive


def client(**state: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**state), dict(ANSWERS))


def many(count: int) -> dict[str, Any]:
    return {
        "lines": [{"n": n, "at": 1.7e9 + n, "kind": "cue", "text": f"line {n}"} for n in range(1, count + 1)],
        "last": count,
    }


def screen(d: Desk) -> Log:
    assert isinstance(d.app.base_screen, Log)
    return d.app.base_screen


@drive
async def test_what_happened_stands_there_in_order() -> None:
    async with desk(client(), mode="log") as d:
        text = d.text()
        places = [text.index(line[3]) for line in LOG_LINES]
        assert places == sorted(places)
        assert "6 lines" in text


@drive
async def test_news_is_asked_for_from_the_last_line_on() -> None:
    async with desk(client(), mode="log") as d:
        screen(d).ask_news()
        await d.settle()
        assert d.client.asked[-1] == ("log", {"after": 6, "limit": 500})
        d.client.answers["log"] = {
            "lines": [{"n": 7, "at": 1.7e9, "kind": "take", "text": "take 2 of setup A starts"}],
            "last": 7,
        }
        screen(d).ask_news()
        await d.settle()
        assert "take 2 of setup A starts" in d.text()


@drive
async def test_the_filter_finds_every_word() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("slash", *"take", "space", *"good")
        assert "1 of 6 lines with: take good" in d.text()
        assert "ends, good" in d.text() and "the door" not in d.text()
        await d.press("enter", "b")
        assert d.sent == [Blackout()], "the filter has let go of the keys"
        await d.press("escape")
        assert "6 lines" in d.text()


@drive
async def test_nothing_found_says_how_to_go_on() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("slash", *"zebra")
        assert "No line has all these words" in d.text()


@drive
async def test_notes_go_onto_the_take_or_into_the_log() -> None:
    async with desk(client(), mode="log") as d:
        await d.press("n", *"soft", "enter", "N", *"rain", "enter", "u", "U", "full_stop")
        assert d.sent == [
            Note(text="soft", take=True),
            Note(text="rain", take=False),
            Undo(),
            Redo(),
            Blackout(),
        ]


@drive
async def test_the_take_that_rolls_is_named() -> None:
    take = TakeState(setup="A", number=3, running=True, since=0.0)
    async with desk(client(take=take), mode="log") as d:
        assert "take 3 of setup A, rolling" in d.text()
        long = "By the oven, with flour on her hands, the camera low, from the left"
        await d.change(take=TakeState(setup=long, number=3, running=True, since=0.0))
        head = next(line for line in d.text().splitlines() if "LOG" in line)
        assert "from the left, rolling" in head and head.rstrip().endswith(" 6 lines")


@drive
async def test_scrolling_keeps_its_place_while_news_comes() -> None:
    fake = client()
    fake.answers["log"] = many(200)
    async with desk(fake, mode="log") as d:
        assert "line 200" in d.text() and "line 150" not in d.text()
        await d.press("left", "up")
        before = d.text().splitlines()[3]
        fake.answers["log"] = many(230)
        screen(d).ask_news()
        await d.settle()
        assert d.text().splitlines()[3] == before
        await d.press("end")
        assert "line 230" in d.text()
        await d.press("home")
        assert "line 1\n" in d.text()
        await d.press("right", "down")
        assert "line 1\n" not in d.text()


@drive
async def test_a_long_line_is_read_to_its_end_and_no_line_is_out_of_reach() -> None:
    fake = client()
    long = "the baker at the oven, with flour on her hands, " * 4
    fake.answers["log"] = {
        "lines": [
            {"n": n, "at": 1.7e9 + n, "kind": "note", "text": f"begin {n} {long}end {n}"}
            for n in range(1, 31)
        ],
        "last": 30,
    }
    async with desk(fake, mode="log", size=(80, 24)) as d:
        assert "begin 30 " in d.text() and "end 30" in d.text()
        await d.press("home")
        assert "begin 1 " in d.text() and "end 1\n" in d.text()
        seen = set[str]()
        for _ in range(10):
            seen |= {line.split("begin ")[1].split()[0] for line in d.text().splitlines() if "begin " in line}
            await d.press("right")
        assert seen == {str(n) for n in range(1, 31)}


def test_the_log_keeps_a_bounded_number_of_lines() -> None:
    lines = Lines()
    lines.take(many(5000))
    assert len(lines) == 2000 and lines.last == 5000


def test_a_new_engine_counts_from_the_beginning() -> None:
    lines = Lines()
    lines.take(many(50))
    assert lines.take(many(3))
    assert [line.text for line in lines.matching("")] == ["line 1", "line 2", "line 3"]
