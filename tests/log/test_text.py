"""Text from people: on one line, with nothing that a terminal or a parser would act upon."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.log.text import clean, plain_ascii

ANY = st.text(st.characters(exclude_categories=()), max_size=60)


@given(text=ANY)
def test_nothing_that_acts_is_left(text: str) -> None:
    shown = clean(text)
    for char in shown:
        # Unicode general categories: controls, surrogates, unassigned, line and paragraph separators.
        assert unicodedata.category(char) not in ("Cc", "Cs", "Cn", "Zl", "Zp")
    assert clean(shown) == shown
    shown.encode("utf-8")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("look at the oven", "look at the oven"),
        ("  two\n lines\tand a tab ", "two lines and a tab"),
        ("\x1b[31mred\x07", "�[31mred�"),
        ("abc\u202edcba", "abc�dcba"),
        ("half a pair \ud83d", "half a pair �"),
        ("café · 2800 K → 3200 K", "café · 2800 K → 3200 K"),
    ],
)
def test_what_is_shown(text: str, shown: str) -> None:
    assert clean(text) == shown


@given(text=ANY)
def test_ascii_is_ascii(text: str) -> None:
    assert plain_ascii(text).isascii()


def test_ascii_stays_readable() -> None:
    assert plain_ascii("Café – “dawn”, 5° → 3/4") == 'Cafe - "dawn", 5 deg -> 3/4'
