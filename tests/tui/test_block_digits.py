"""Block digits: at least a fifth of the screen high, distinct, and whole at every size."""

from __future__ import annotations

import pytest

from onecrew.tui import theme
from onecrew.tui.drawing import block_digits
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
    drawn = {block_digits.digit(sign, *size) for sign in "0123456789-"}
    assert len(drawn) == 11


@pytest.mark.parametrize("room", range(1, 60))
def test_a_number_never_leaves_its_room(room: int) -> None:
    canvas = Canvas(room, 5)
    block_digits.put_number(canvas, 0, 0, "1234.567", 5, theme.NOW)
    for spans in canvas.rows():
        assert all(x + len(text) <= room for x, text, _ in spans)


def drawn(text: str, width: int, height: int) -> tuple[int, list[str]]:
    canvas = Canvas(width, height)
    rows = block_digits.put_text(canvas, text, theme.NOW)
    return rows, ["".join(piece for _, piece, _ in spans) for spans in canvas.rows()]


@pytest.mark.parametrize(("width", "height", "rows"), [(70, 3, 3), (40, 7, 7), (70, 20, 3)])
def test_a_name_is_drawn_in_block_letters_over_as_many_lines_as_it_takes(
    width: int, height: int, rows: int
) -> None:
    taken, lines = drawn("Before four", width, height)
    assert taken == rows and not any(letter.isalpha() for line in lines for letter in line)
    assert sum(bool(line) for line in lines) == 3 * (rows // 3)


@pytest.mark.parametrize(
    ("text", "width", "height"), [("Before four", 20, 7), ("床", 70, 9), ("Four", 40, 2)]
)
def test_a_name_that_block_letters_cannot_draw_is_plain(text: str, width: int, height: int) -> None:
    taken, lines = drawn(text, width, height)
    assert taken == 1 and lines[0] == text


def test_accents_go_and_no_two_letters_look_alike() -> None:
    assert drawn("Öfen", 40, 3) == drawn("Ofen", 40, 3)
    letters = {block_digits._word(letter): letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"}
    assert len(letters) == 36
