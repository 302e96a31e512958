"""Poor terminals: 16 colours, no colours, and the sentence for each state that a colour shows as well."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from rich.color import ColorSystem
from rich.segment import Segment

from onecrew.show.snapshot import CountdownState, FadeState, OutputState, TakeState
from onecrew.tui import run, theme
from onecrew.tui.app import OnecrewApp
from onecrew.tui.shoot.screen import Shoot
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import WALL, Desk, desk, drive

MODES = list(OnecrewApp.MODES)
BUSY: dict[str, Any] = {
    "fade": FadeState(progress=0.4, left_s=2.0),
    "countdown": CountdownState(left_s=4.0, command="go"),
    "take": TakeState(setup="A", number=3, running=True, since=WALL - 5),
    "locked": True,
    "outputs": (
        OutputState(universe=1, to="192.0.2.7", state="failing", sent=9, errors=4, error="no route"),
    ),
}


def client() -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**BUSY), dict(ANSWERS))


def segments(d: Desk) -> list[Segment]:
    return [segment for strip in d.app.screen._compositor.render_strips() for segment in strip]


@pytest.mark.parametrize("system", [ColorSystem.STANDARD, ColorSystem.EIGHT_BIT])
@pytest.mark.parametrize("mode", MODES)
@drive
async def test_no_text_vanishes_where_colours_are_few(mode: str, system: ColorSystem) -> None:
    async with desk(client(), mode=mode) as d:
        seen = 0
        for text, style, _ in segments(d):
            words = text.strip(" █▀▄░")
            if not words or style is None or style.color is None or style.bgcolor is None:
                continue
            ink, paper = (colour.downgrade(system) for colour in (style.color, style.bgcolor))
            assert ink.number != paper.number, f"{words!r} is {ink} on {paper}"
            seen += 1
        assert seen > 10


@pytest.mark.parametrize("mode", MODES)
@drive
async def test_without_colours_every_word_stays(mode: str, monkeypatch: pytest.MonkeyPatch) -> None:
    async with desk(client(), mode=mode) as d:
        with_colours = d.picture()
    monkeypatch.setenv("NO_COLOR", "1")
    async with desk(client(), mode=mode) as d:
        assert d.app.no_color
        assert d.picture() == with_colours
        assert not any(_coloured(segment) for segment in segments(d))


def _coloured(segment: Segment) -> bool:
    style = segment.style
    for colour in (style.color, style.bgcolor) if style is not None else ():
        if colour is not None and colour.triplet is not None and len(set(colour.triplet)) > 1:
            return True
    return False


STATES: dict[str, dict[str, Any]] = {
    "rest": {},
    "fading": {"fade": FadeState(progress=0.0, left_s=2.0)},
    "locked": {"locked": True},
    "held": {"held": True},
    "blackout": {"blackout": True},
    "rolling": {"take": TakeState(setup="A", number=3, running=True, since=WALL)},
    "cut": {"take": TakeState(setup="A", number=3, running=False)},
    "good": {"take": TakeState(setup="A", number=3, running=False, good=True)},
    "counting": {"countdown": CountdownState(left_s=9, command="go")},
    "failing": {"outputs": BUSY["outputs"]},
    "solo": {"solo": ("street",)},
    "without": {"without": ("street",)},
    "comparing": {"comparing": True},
    "identify": {"identify": ("street",)},
}


@drive
async def test_no_two_states_differ_by_colour_alone() -> None:
    shown: dict[str, list[str]] = {}
    for name, state in STATES.items():
        async with desk(FakeClient(bakery.show(), bakery.snapshot(**state))) as d:
            shown[name] = d.picture()
    for one, other in combinations(shown, 2):
        assert shown[one] != shown[other], f"{one} and {other} differ by colour alone"


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.1, definition of relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("ink", [theme.CHALK, theme.FAINT, theme.TUNGSTEN, theme.DAYLIGHT, theme.ALARM])
@pytest.mark.parametrize("paper", [theme.SLATE, theme.BOARD])
def test_text_stands_out_by_wcag_aa(ink: str, paper: str) -> None:
    """WCAG 2.1, 1.4.3: at least 4.5 : 1 for text; large text and the block digits reach 7 : 1 and more."""
    bright, dark = sorted((_luminance(ink), _luminance(paper)), reverse=True)
    assert (bright + 0.05) / (dark + 0.05) >= (5.5 if ink in (theme.FAINT, theme.ALARM) else 7.0)


def test_a_fault_of_the_screens_ends_them_without_a_page_of_code(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    async def attach(_: object) -> FakeClient:
        return FakeClient(bakery.show(), bakery.snapshot())

    def broken(_: object) -> None:
        raise ZeroDivisionError

    real = OnecrewApp.run_async
    monkeypatch.setattr("onecrew.tui.run.EngineClient.attach", attach)
    monkeypatch.setattr(OnecrewApp, "run_async", lambda self: real(self, headless=True, size=(80, 24)))
    monkeypatch.setattr(Shoot, "on_screen_resume", broken)
    with pytest.raises(ZeroDivisionError):
        run.run("show.json")
    told = capfd.readouterr()
    assert told.out == told.err == ""
