"""Block digits: at least a fifth of the screen high, distinct, and whole at every size."""

from __future__ import annotations

import pytest

from onecrew.tui import theme
from onecrew.tui.drawing import blocks
from onecrew.tui.drawing.canvas import Canvas
from onecrew.tui.shoot.layout import digit_rows
from tests.tui.driving import desk, drive


@pytest.mark.parametrize("height", [24, 30, 45, 60])
def test_digits_are_a_fifth_of_the_screen_high(height: int) -> None:
    assert digit_rows(height - 3) >= height / 5


@drive
async def test_the_digits_really_are_that_high_on_the_screen() -> None:
    async with desk() as d:
        column = [row[3] for row in d.picture()]
        drawn = [y for y, sign in enumerate(column[:12]) if sign in "▀▄█"]
        assert len(drawn) >= 3
        rows = [row for row in d.picture()[2:9] if any(sign in "▀▄█" for sign in row)]
        assert len(rows) == 5


@pytest.mark.parametrize("size", [(3, 6), (5, 6), (7, 10), (11, 16), (20, 28)])
def test_no_two_digits_look_alike(size: tuple[int, int]) -> None:
    drawn = {blocks.digit(sign, *size) for sign in "0123456789-"}
    assert len(drawn) == 11


@pytest.mark.parametrize("room", range(1, 60))
def test_a_number_never_leaves_its_room(room: int) -> None:
    canvas = Canvas(room, 5)
    blocks.put_number(canvas, 0, 0, "1234.567", 5, theme.NOW)
    for spans in canvas.rows():
        assert all(x + len(text) <= room for x, text, _ in spans)
