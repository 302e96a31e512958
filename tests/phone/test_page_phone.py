"""What a paired phone is sent and what it may do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import html5lib
import pytest

from onecrew.commands.command import Command
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.light import SetLight
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Recall
from onecrew.commands.table import TABLE
from onecrew.commands.takes import TakeClip, TakeEnd, TakeStart
from onecrew.phone.server import FOLDER
from onecrew.phone.view import KINDS, reading_view, show_view
from onecrew.plan.now import forecast_now
from onecrew.shipped import shipped
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Page, Remote, Show
from tests.phone.page_stand import Stand


def test_it_is_told_how_things_are_and_then_what_changes(stand: Stand) -> None:
    stand.tell("engine", {"here": True, "say": ""})
    stand.tell("show", {"name": "The Night Baker", "cues": []})
    stand.tell("state", {"cue": "1"})
    link = stand.link(stand.paired())
    assert [link.next() for _ in range(3)] == [
        {"engine": {"here": True, "say": ""}},
        {"show": {"name": "The Night Baker", "cues": []}},
        {"state": {"cue": "1"}},
    ]
    stand.tell("state", {"cue": "2"})
    assert link.wait("state") == {"cue": "2"}
    stand.tell("state", {"cue": "2"})  # nothing new
    stand.tell("state", {"cue": "3"})
    assert link.wait("state") == {"cue": "3"}


def test_what_was_withdrawn_is_told_again_though_it_is_the_same(stand: Stand) -> None:
    stand.tell("state", {"cue": "1"})
    link = stand.link(stand.paired())
    assert link.wait("state") == {"cue": "1"}
    stand.loop.call_soon_threadsafe(stand.server.withdraw, "state")
    stand.tell("engine", {"here": False, "say": "the engine went away"})
    assert stand.link(stand.paired()).next() == {"engine": {"here": False, "say": "the engine went away"}}
    stand.tell("state", {"cue": "1"})
    assert link.wait("state") == {"cue": "1"}


def test_silence_is_told_from_rest(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("onecrew.phone.phone.BEAT_S", 0.05)
    link = stand.link(stand.paired())
    assert link.wait("beat")
    assert link.wait("beat")


MAY: list[Command] = [
    Go(),
    Back(),
    Recall(cue="2", fade_s=3.0),
    Hold(on=True),
    Blackout(on=True),
    Lock(on=True),
    Countdown(seconds=10.0, command=Go()),
    CancelCountdown(),
    TakeStart(),
    TakeClip(name="A003C012"),
    TakeEnd(),
    TakeClip(name="A003C012"),
]


@pytest.mark.parametrize("command", MAY, ids=lambda command: command.kind)
def test_it_may_run_the_show(stand: Stand, command: Command) -> None:
    link = stand.link(stand.paired())
    assert link.ask(command.model_dump(mode="json")) == ""
    assert stand.done == [command]


def test_what_it_may_is_all_that_it_may(stand: Stand) -> None:
    assert {command.kind for command in MAY} == KINDS
    cookie = stand.paired()
    for kind in sorted(set(TABLE) - KINDS):
        assert "cannot do this" in stand.link(cookie).ask({"kind": kind})  # a link each: none asks too much
    link = stand.link(cookie)
    others: tuple[Any, ...] = (None, 7, "go", [], {}, {"kind": None}, {"kind": ["go"]})
    for other in others:
        assert "cannot do this" in link.ask(other)
    assert stand.done == []


def test_a_refusal_comes_back_in_words(stand: Stand) -> None:
    link = stand.link(stand.paired())
    stand.locked = True
    assert link.ask({"kind": "go"}) == "the desk is locked"
    assert "2000" in link.ask({"kind": "countdown", "seconds": 2000})
    assert "not a field" in link.ask({"kind": "go", "twice": True})
    assert stand.done == []


def test_two_phones_see_the_same(stand: Stand) -> None:
    cookie, other = stand.paired(), stand.paired()
    links = [stand.link(cookie), stand.link(other)]
    stand.tell("state", {"cue": "4"})
    assert [link.wait("state") for link in links] == [{"cue": "4"}] * 2
    assert stand.server.connected == 2


def test_closing_the_page_says_goodbye(stand: Stand) -> None:
    link = stand.link(stand.paired())
    stand.run(stand.server.close())
    assert link.ended() in (1001, None)


def test_a_bug_is_a_sentence_and_the_phone_stays(stand: Stand, caplog: pytest.LogCaptureFixture) -> None:
    async def fails(command: Command) -> None:
        raise RuntimeError("a bug")

    stand.server._carry_out = fails
    link = stand.link(stand.paired())
    assert "should not have happened" in link.ask({"kind": "go"})
    assert "RuntimeError" in caplog.text
    assert "should not have happened" in link.ask({"kind": "back"}, 2)


@pytest.mark.parametrize("name", ["page.html", "pairing.html"])
def test_the_page_is_sound_html(name: str) -> None:
    """html5lib in its strict mode follows the parsing rules of the HTML standard and forgives nothing."""
    text = (FOLDER / name).read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "style=" not in text and "onclick" not in text  # nothing inline: its own policy forbids it
    assert "://" not in text  # nothing from elsewhere


def test_the_reading_at_the_subject_is_a_few_lines_and_none_without_light() -> None:
    """The figures are the forecast's own; the phone only shows them."""
    show = load_show(shipped("examples") / "night-baker.json", load_profiles())
    hood = next(fixture.id for fixture in show.rig.fixtures if fixture.role == "key")
    dark = {fixture.id: Doing(0.0, (0.4, 0.4)) for fixture in show.rig.fixtures}
    [found] = forecast_now(show, load_profiles(), {**dark, hood: Doing(0.5, (0.4, 0.4))})
    [told] = reading_view([found])
    assert told["subject"] == found.subject
    assert f"key ({hood}) {found.key_lux:.3g} lx" in told["lines"][2]
    assert reading_view(forecast_now(show, load_profiles(), dark)) == []


@dataclass(frozen=True)
class Doing:
    output: float
    xy: tuple[float, float]


TRIM = {"kind": "set", "fixtures": ["hood"], "stops_by": 1 / 3}


def test_a_phone_trims_where_the_show_says_so(stand: Stand) -> None:
    link = stand.link(stand.paired())
    assert link.ask(TRIM) == "a phone runs the show; it cannot do this"
    stand.tell("show", {"name": "The Night Baker", "cues": [], "trim": True})
    assert link.ask(TRIM) == ""
    assert stand.done == [SetLight(fixtures=("hood",), stops_by=1 / 3)]
    for more in ({"level": 1.0}, {"stops_by": 3.0}, {"fixtures": ["hood", "oven"]}, {"fade_s": 60.0}):
        assert "trims one lamp by a stop at most" in link.ask({**TRIM, **more})
    assert link.ask({"kind": "store", "cue": "1"}) == "a phone runs the show; it cannot do this"
    assert len(stand.done) == 1


def test_the_show_says_whether_a_phone_may_trim() -> None:
    show = Show(name="Small")
    for page, trim in ((None, False), (Page(), False), (Page(trim=True), True)):
        assert show_view(show.model_copy(update={"remote": Remote(page=page)}))["trim"] is trim
