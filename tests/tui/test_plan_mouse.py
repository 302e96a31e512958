"""Plan by mouse: things are dragged, aimed and chosen; a drag is one change; walls pull."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events
from textual.geometry import Offset

from onecrew.commands.rig import PutFixture
from onecrew.commands.set_pieces import PutSetPiece
from onecrew.show.show import Place
from onecrew.tui.plan.layout import PlanBody
from onecrew.tui.plan.moving import FURTHEST_M, WALL_M, Walls, aim_at
from onecrew.tui.plan.screen import Plan
from tests.fakes import bakery
from tests.tui.driving import Desk, desk, drive

ROOM = Walls(4.0, 5.0)


def body(d: Desk) -> PlanBody:
    assert isinstance(d.app.base_screen, Plan)
    return d.app.base_screen.query_one(PlanBody)


async def mouse(d: Desk, kind: type[events.MouseEvent], x: int, y: int, button: int = 1) -> None:
    """One event of the mouse at a column and row of the plan."""
    widget = body(d)
    at = widget.region.offset + Offset(x, y)
    event = kind(widget, x, y, 0, 0, button, False, False, False, at.x, at.y)
    widget.post_message(event)
    await d.settle()


def cell(d: Desk, x_m: float, y_m: float) -> tuple[int, int]:
    drawing = body(d)._drawing
    assert drawing is not None
    return drawing.frame.at(x_m, y_m)


async def drag(d: Desk, start: tuple[int, int], *way: tuple[int, int], button: int = 1) -> None:
    await mouse(d, events.MouseDown, *start, button)
    for x, y in way:
        await mouse(d, events.MouseMove, x, y, button)
    await mouse(d, events.MouseUp, *(way or (start,))[-1], button)


def placed(d: Desk) -> Place:
    [sent] = d.sent
    piece: Any = sent.fixture if isinstance(sent, PutFixture) else getattr(sent, "set_piece", None)
    assert piece is not None and piece.place is not None
    place: Place = piece.place
    return place


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_a_lamp_goes_where_it_is_dragged_as_one_change(size: tuple[int, int]) -> None:
    async with desk(mode="plan", size=size) as d:
        start, end = cell(d, 0.6, 3.4), cell(d, 1.6, 2.4)  # the hood
        await drag(d, start, cell(d, 1.0, 3.0), cell(d, 3.0, 3.0), end)
        place = placed(d)
        per_m = body(d)._drawing.frame.columns_per_m  # type: ignore[union-attr]
        assert place.x_m == pytest.approx(1.6, abs=1.5 / per_m)
        assert place.y_m == pytest.approx(2.4, abs=3.0 / per_m)
        assert (place.height_m, place.aim_deg) == (2.1, 135.0)


@drive
async def test_a_thing_held_by_its_name_moves_by_as_much_as_the_pointer() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        x, y = cell(d, 0.6, 3.4)
        per_m = body(d)._drawing.frame.columns_per_m  # type: ignore[union-attr]
        await drag(d, (x + 5, y), (x + 5 + round(per_m), y))
        assert placed(d).x_m == pytest.approx(1.6, abs=0.6 / per_m)


@drive
async def test_nothing_is_sent_while_the_button_is_down_however_long() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await mouse(d, events.MouseDown, *cell(d, 0.6, 3.4))
        await mouse(d, events.MouseMove, *cell(d, 1.6, 2.4))
        screen = d.app.base_screen
        assert isinstance(screen, Plan)
        assert screen.moved and screen._rest is None  # no clock that would cut the drag in two
        assert d.sent == []
        await d.press("escape")
        await mouse(d, events.MouseMove, *cell(d, 2.6, 2.0))  # the hand goes on, the lamp does not
        await mouse(d, events.MouseUp, *cell(d, 1.6, 2.4))
        assert d.sent == []  # taken back


@drive
async def test_a_click_selects_and_changes_nothing() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await drag(d, cell(d, 2.0, 0.2))
        screen = d.app.base_screen
        assert isinstance(screen, Plan)
        assert screen.things()[screen.cursor].kind == "camera"
        await drag(d, (body(d).size.width - 20, 1))  # the second line of the list
        assert screen.cursor == 1
        assert d.sent == []


@drive
async def test_near_a_wall_a_thing_goes_to_the_wall() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await drag(d, cell(d, 0.6, 3.4), cell(d, 0.05, 3.4))
        assert placed(d).x_m == WALL_M


@drive
async def test_the_right_button_aims() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await drag(d, cell(d, 2.0, 3.4), cell(d, 3.0, 3.4), button=3)
        place = placed(d)
        assert place.aim_deg == pytest.approx(90.0, abs=2.0)
        assert (place.x_m, place.y_m) == (0.6, 3.4)


@drive
async def test_a_subject_is_dragged_too() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await drag(d, cell(d, 2.0, 1.8), cell(d, 2.5, 1.8))
        assert isinstance(d.sent[0], PutSetPiece) and d.sent[0].set_piece.id == "counter"
        assert placed(d).x_m == pytest.approx(2.5, abs=0.1)
        assert bakery.show().rig.set_pieces[0].id  # the show itself changes by the command alone


@given(st.floats(-60, 60), st.integers(0, 1), st.sampled_from([-0.1, 0.1]))
def test_a_step_is_a_step_and_ends_at_a_wall_on_the_way(at: float, axis: int, step: float) -> None:
    there = ROOM.stepped(axis, at, step)
    assert abs(there) <= FURTHEST_M
    if abs(at) < FURTHEST_M - 1:
        assert abs(there - at) <= 0.1 + 1e-3
        crossed = [
            stop for stop in ROOM.stops(axis) if min(at, at + step) < stop - 1e-6 < max(at, at + step) - 2e-6
        ]
        if crossed:
            assert there == pytest.approx(crossed[0], abs=1e-3)


def test_walls_pull_what_is_near_and_nothing_else() -> None:
    assert ROOM.pulled(0, 0.2) == ROOM.pulled(0, -0.04) == WALL_M
    assert ROOM.pulled(1, 4.8) == 5.0 - WALL_M
    assert ROOM.pulled(0, 1.234) == 1.23
    assert Walls(0.1, 0.1).stops(0) == (0.05, 0.05)


def test_the_aim_is_clockwise_from_up_the_plan() -> None:
    here = Place(x_m=1.0, y_m=1.0)
    assert [aim_at(here, *to) for to in ((1, 2), (2, 1), (1, 0), (0, 1), (1, 1))] == [0, 90, 180, 270, None]
