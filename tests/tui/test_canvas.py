"""Canvas: rows are exactly as wide as asked, nothing leaves them, later text lies over earlier."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from onecrew.tui import theme
from onecrew.tui.drawing.canvas import Canvas, _row, clean, fit

TEXT = st.text(max_size=12)


@settings(max_examples=150)
@given(TEXT, st.integers(0, 20))
def test_fit_is_exact(text: str, width: int) -> None:
    assert cell_len(fit(text, width)) == width


@settings(max_examples=200)
@given(st.integers(1, 30), st.lists(st.tuples(st.integers(-10, 40), TEXT), max_size=8))
def test_a_row_is_as_wide_as_the_canvas_whatever_is_put(width: int, puts: list[tuple[int, str]]) -> None:
    canvas = Canvas(width, 1)
    for x, text in puts:
        canvas.put(x, 0, text)
    strip = _row(canvas.rows()[0], width, theme.GROUND)
    assert strip.cell_length == cell_len(strip.text) == width


@settings(max_examples=200)
@given(st.lists(st.tuples(st.integers(0, 20), st.text("abcxyz", min_size=1, max_size=9)), max_size=8))
def test_later_text_lies_over_earlier(puts: list[tuple[int, str]]) -> None:
    canvas = Canvas(20, 1)
    expected = [" "] * 40
    for x, text in puts:
        canvas.put(x, 0, text)
        expected[x : x + len(text)] = text
    assert _row(canvas.rows()[0], 20, theme.GROUND).text == "".join(expected[:20])


@given(st.text(max_size=40))
def test_nothing_a_terminal_would_obey_gets_through(text: str) -> None:
    assert not any(ord(sign) < 0x20 or 0x7F <= ord(sign) < 0xA0 for sign in clean(text))


def test_a_part_has_its_own_origin_and_bounds() -> None:
    canvas = Canvas(10, 3)
    part = canvas.part(4, 1, 3, 1)
    part.put(0, 0, "abcdef")
    part.put(0, 1, "outside")
    part.put(-2, 0, "xyz")
    assert [_row(row, 10, theme.GROUND).text.rstrip() for row in canvas.rows()] == ["", "    zbc", ""]
