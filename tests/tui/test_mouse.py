"""The mouse: a click chooses, a key in the footer does what it says, the wheel moves lists."""

from __future__ import annotations

import pytest
from textual import events
from textual.geometry import Offset

from onecrew.commands.light import Solo
from onecrew.commands.running import Go, Recall
from onecrew.show.show import Show
from onecrew.tui.app import OnecrewApp
from onecrew.tui.dialogs.listing import Listing
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, Window
from onecrew.tui.light.screen import Light
from onecrew.tui.log.screen import Log
from onecrew.tui.plan.layout import PlanBody
from onecrew.tui.rig.finding import FindKind
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

SIZES = pytest.mark.parametrize("size", [(80, 24), (140, 45)])
LONG = [f"lamp{index:02}" for index in range(60)]


def client(show: Show | None = None) -> FakeClient:
    return FakeClient(show or bakery.show(), bakery.snapshot(), dict(ANSWERS))


def sixty() -> FakeClient:
    """A rig of sixty lamps, all alike."""
    hood = bakery.show().rig.fixtures[0]
    fixtures = [
        hood.model_copy(update={"id": name, "universe": 1 + index // 40, "address": 1 + 10 * (index % 40)})
        for index, name in enumerate(LONG)
    ]
    document = bakery.show().model_dump(mode="json")
    document["rig"]["fixtures"] = [fixture.model_dump(mode="json") for fixture in fixtures]
    for cue in document["cues"]:
        cue["look"] = {}
    light = bakery.snapshot().lights["hood"]
    snapshot = bakery.snapshot().model_copy(update={"lights": dict.fromkeys(LONG, light)})
    return FakeClient(Show.model_validate(document), snapshot, dict(ANSWERS))


def where(d: Desk, text: str) -> tuple[int, int]:
    """The cell of the first letter of this text on the screen."""
    for y, line in enumerate(d.picture()):
        if text in line:
            return line.index(text), y
    raise AssertionError(f"{text} is not on the screen:\n" + "\n".join(d.picture()))


async def click(d: Desk, text: str) -> None:
    await d.pilot.click(offset=where(d, text))
    await d.settle()


async def wheel(d: Desk, text: str, *, up: bool = False) -> None:
    """One step of the wheel with the pointer on this text."""
    x, y = where(d, text)
    kind = events.MouseScrollUp if up else events.MouseScrollDown
    d.app.screen._forward_event(kind(None, x, y, 0, 0, 0, False, False, False, x, y))
    await d.settle()


@SIZES
@drive
async def test_every_tab_of_the_header_opens_its_screen(size: tuple[int, int]) -> None:
    async with desk(client(), size=size) as d:
        for mode in ("light", "rig", "log", "plan", "colour", "shoot"):
            await d.pilot.click(offset=(d.picture()[0].index(mode.title()), 0))
            await d.settle()
            assert d.app.current_mode == mode
        assert d.sent == []


@SIZES
@pytest.mark.parametrize("mode", ["light", "rig", "colour"])
@drive
async def test_a_click_moves_the_cursor_to_the_lamp(mode: str, size: tuple[int, int]) -> None:
    async with desk(client(), mode=mode, size=size) as d:
        x = 110 if mode == "colour" and size[0] > 100 else 50 if mode == "colour" else 0
        row = next(y for y, line in enumerate(d.picture()) if "street" in line[x:])
        await d.pilot.click(offset=(x + d.picture()[row][x:].index("street"), row))
        await d.settle()
        assert d.app.cursor.id == "street" and d.sent == []
        if mode == "light":
            await d.press("o")
            assert d.sent == [Solo(fixtures=("street",))]


@drive
async def test_the_dot_before_a_lamp_selects_it_beside_others() -> None:
    async with desk(client(), mode="light") as d:
        for name in ("hood", "oven"):
            x, y = where(d, f"○ {name}")
            await d.pilot.click(offset=(x, y))
            await d.settle()
        light = d.app.base_screen
        assert isinstance(light, Light) and light.selected == {"hood", "oven"}
        await click(d, "● hood")
        assert light.selected == {"oven"} and d.sent == []


@drive
async def test_a_lamp_clicked_on_shoot_is_under_the_cursor() -> None:
    async with desk(client(), size=(140, 45)) as d:
        await click(d, "oven")
        assert d.app.cursor.id == "oven" and d.sent == []


@SIZES
@drive
async def test_a_cue_is_chosen_by_a_click_and_recalled_by_a_second_one(size: tuple[int, int]) -> None:
    async with desk(client(), size=size) as d:
        await click(d, "The baker turns")
        assert d.sent == []
        await click(d, "▸ 4")
        assert d.sent == [Recall(cue="4")]


@SIZES
@drive
async def test_a_double_click_answers_nothing_that_its_first_half_opened(size: tuple[int, int]) -> None:
    async with desk(client(), size=size) as d:
        for name in ("Working light", "Second pass", "Blackout"):
            await d.pilot.click(offset=where(d, name), times=2)
            await d.settle()
            assert d.sent == [] and isinstance(d.app.screen, Listing), name
            await d.press("escape")


@drive
async def test_the_second_click_of_a_double_click_in_a_list_is_enter() -> None:
    async with desk(client()) as d:
        await d.press("number_sign")
        await d.pilot.click(offset=where(d, "5     Second pass"), times=2)
        await d.settle()
        assert d.sent == [Recall(cue="5")]


@drive
async def test_a_double_click_on_a_key_in_the_footer_does_it_once() -> None:
    async with desk(client()) as d:
        await d.pilot.click(offset=where(d, "PgDn go"), times=2)
        await d.settle()
        assert d.sent == [Go()]
        await d.pilot.click(offset=where(d, "F1 all keys"), times=2)
        await d.settle()
        assert "the keys here" in d.page()


@drive
async def test_lines_and_keys_of_a_list_are_clicked() -> None:
    async with desk(client()) as d:
        await d.press("number_sign")
        await click(d, "5     Second pass")
        assert d.sent == []
        await click(d, "name, shortcut, times")
        assert "Cue 5" in d.page()
        await d.press("escape", "number_sign")
        await click(d, "go back, nothing")
        assert d.app.screen is d.app.base_screen and d.sent == []


@drive
async def test_scenes_open_by_a_click_on_the_header() -> None:
    document = bakery.show().model_dump(mode="json")
    document["other_scenes"] = [{"name": "Delivery"}]
    async with desk(client(Show.model_validate(document)), size=(140, 45)) as d:
        await click(d, "F9 ")
        assert "Scenes of The Night Baker" in d.page()


@drive
async def test_a_click_on_trouble_opens_the_screen_that_it_names() -> None:
    silent = bakery.snapshot().outputs[0].model_copy(update={"state": "failing", "error": "no route"})
    async with desk(FakeClient(bakery.show(), bakery.snapshot(outputs=(silent,)), dict(ANSWERS))) as d:
        await click(d, ", F4")
        assert d.app.current_mode == "rig"


@drive
async def test_an_answer_is_clicked() -> None:
    async with desk(client()) as d:
        await d.press("q")
        await click(d, "Leave the lights on")
        assert not d.app.is_running and d.sent == []


@SIZES
@drive
async def test_a_key_in_the_footer_does_what_it_says(size: tuple[int, int]) -> None:
    async with desk(client(), size=size) as d:
        await click(d, "PgDn go")
        assert d.sent == [Go()]
        await click(d, "F1 all keys")
        assert "the keys here" in d.page()


@drive
async def test_a_profile_is_chosen_by_a_click_and_taken_by_a_second_one() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a")
        finding = d.app.screen
        assert isinstance(finding, FindKind)
        second = finding.found()[1]
        await click(d, second.words())
        assert finding.chosen == 1 and d.app.screen is finding
        await click(d, second.words())
        assert d.app.screen is not finding


@SIZES
@pytest.mark.parametrize("mode", ["light", "rig"])
@drive
async def test_the_wheel_moves_a_long_list_and_nothing_else(mode: str, size: tuple[int, int]) -> None:
    async with desk(sixty(), mode=mode, size=size) as d:
        await wheel(d, "lamp01")
        page = d.page()
        assert "lamp01" not in page and "lamp03" in page
        assert d.app.cursor.index(d.app.show.rig.fixtures) == 0  # type: ignore[union-attr]
        for _ in range(30):
            await wheel(d, "lamp")
        assert "lamp59" in d.page()
        await wheel(d, "lamp59", up=True)
        assert "lamp59" not in d.page(), "it does not turn further than the end"
        await d.press("down")
        assert "lamp01" in d.page(), "the list follows the cursor"
        assert d.sent == []


@pytest.mark.parametrize("mode", list(OnecrewApp.MODES))
@drive
async def test_the_wheel_sends_nothing_on_any_screen(mode: str) -> None:
    async with desk(client(), mode=mode, size=(140, 45)) as d:
        for x in range(3, 140, 30):
            for y in range(1, 45, 8):
                for kind in (events.MouseScrollUp, events.MouseScrollDown):
                    d.app.screen._forward_event(kind(None, x, y, 0, 0, 0, False, False, False, x, y))
        await d.settle()
        await d.press("up")  # on Plan this would send a move that was left open
        assert d.sent == []


@drive
async def test_the_wheel_moves_the_log() -> None:
    lines = [{"n": n, "at": float(n), "kind": "note", "text": f"line {n}"} for n in range(1, 91)]
    async with desk(client(), mode="log") as d:
        log = d.app.base_screen
        assert isinstance(log, Log)
        log._have({"lines": lines, "last": 90})
        await d.settle()
        await wheel(d, "line 90", up=True)
        assert log.back == 3 and "line 90" not in d.page() and d.sent == []
        await wheel(d, "line")
        assert log.back == 0


@drive
async def test_on_plan_the_wheel_turns_only_what_the_pointer_holds() -> None:
    async with desk(client(), mode="plan") as d:
        body = d.app.screen.query_one(PlanBody)
        assert body._drawing is not None
        x, y = body._drawing.frame.at(0.6, 3.4)  # the hood
        at = body.region.offset + Offset(x, y)
        body.post_message(events.MouseDown(body, x, y, 0, 0, 1, False, False, False, at.x, at.y))
        await d.settle()
        body.scroll_lines(1)
        body.post_message(events.MouseUp(body, x, y, 0, 0, 1, False, False, False, at.x, at.y))
        await d.settle()
        [sent] = d.sent
        assert sent.fixture.place.aim_deg == 140.0


def test_a_window_follows_the_cursor_and_ends_with_the_list() -> None:
    window = Window()
    assert window.first(0, 5, 20) == 0
    assert window.first(7, 5, 20) == 3, "just as far as it takes"
    assert window.first(5, 5, 20) == 3, "the cursor is inside: nothing moves"
    assert window.first(2, 5, 20) == 2
    window.top += 100
    assert window.first(2, 5, 20) == 15
    assert window.first(2, 9, 20) == 2, "another height shows the cursor again"
    assert window.first(0, 9, 3) == 0


def test_targets_of_a_part_lie_where_it_lies_and_inside_it() -> None:
    canvas = Canvas(20, 4)
    part = canvas.part(5, 1, 6, 2)
    part.target(-2, 0, 99, "lamp", "hood")
    part.target(0, 2, 3, "lamp", "below")
    assert canvas.targets == [(1, 5, 11, ("lamp", "hood"))]


def test_what_is_drawn_last_is_what_is_clicked() -> None:
    canvas = Canvas(9, 1)
    canvas.target(0, 0, 5, "a", "")
    canvas.target(2, 0, 1, "b", "")
    drawn = CanvasWidget()
    drawn._targets = canvas.targets
    assert [drawn.target_at(x, 0) for x in (1, 2, 3, 5)] == [("a", ""), ("b", ""), ("a", ""), None]
