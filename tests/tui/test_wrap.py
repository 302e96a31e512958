"""Text in lines: every word is there, in order, and no line is too long."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from onecrew.tui.drawing.canvas import wrap

WORDS = st.lists(st.text("abc–é床", min_size=1, max_size=6), min_size=1, max_size=12)


@given(WORDS, st.integers(12, 40))
@settings(max_examples=60, deadline=None)
def test_no_word_is_lost_and_no_line_is_too_long(words: list[str], width: int) -> None:
    lines = wrap(" ".join(words), width)
    assert " ".join(lines).split() == words
    assert all(cell_len(line) <= width for line in lines)


def test_a_word_that_is_too_long_goes_on_in_the_next_line() -> None:
    assert wrap("a abcdefghij b", 5) == ["a", "abcde", "fghij", "b"]
    assert wrap("a 床床床床 b", 5) == ["a", "床床", "床床", "b"]
