"""Address patterns against OSC 1.0, "OSC Message Dispatching and Pattern Matching"."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.osc.pattern import BadPattern, compile_part, is_pattern

# The rules of OSC 1.0, one by one; the names are ours. Its own example is "/{third,this}.wav" and the like.
RULES = [
    ("?", "a", True),
    ("?", "", False),
    ("?", "ab", False),
    ("*", "", True),
    ("*", "anything-at_all.7", True),
    ("win*", "window", True),
    ("win*", "wi", False),
    ("*dow", "window", True),
    ("*o*o*", "foo", True),
    ("[string]", "s", True),
    ("[string]", "x", False),
    ("lamp[1-3]", "lamp2", True),
    ("lamp[1-3]", "lamp4", False),
    ("lamp[!1-3]", "lamp4", True),
    ("lamp[!1-3]", "lamp2", False),
    ("lamp[a-]", "lamp-", True),  # a minus at the end is itself
    ("lamp[!]", "lamp7", True),
    ("lamp[1!]", "lamp!", True),  # an exclamation mark that is not first is itself
    ("{foo,bar}", "foo", True),
    ("{foo,bar}", "bar", True),
    ("{foo,bar}", "foobar", False),
    ("{foo,bar}baz", "barbaz", True),
    ("x{,y}", "x", True),
    ("{in,out}[0-9]?", "out42", True),
    ("window", "window", True),
    ("window", "windows", False),
    ("WINDOW", "window", False),
]


@pytest.mark.parametrize(("pattern", "name", "fits"), RULES)
def test_the_rules_of_osc(pattern: str, name: str, fits: bool) -> None:
    assert compile_part(pattern).matches(name) is fits


@pytest.mark.parametrize("pattern", ["[abc", "{foo,bar", "a]", "a}", "{a[b,c}", "{a*,b}", "{a{b,c}}", "a#b"])
def test_what_does_not_close_is_refused(pattern: str) -> None:
    with pytest.raises(BadPattern):
        compile_part(pattern)


@pytest.mark.parametrize(
    ("part", "is_one"), [("window", False), ("w?", True), ("w]", True), ("a.b!c", False)]
)
def test_a_name_is_not_a_pattern(part: str, is_one: bool) -> None:
    assert is_pattern(part) is is_one


PIECES = st.sampled_from(["a", "b", "-", "?", "*", "[ab]", "[!a]", "[a-b]", "{a,bb}", "{ab,}", "{b,ba,aab}"])
IN_WORDS = {"?": ".", "*": ".*", "[ab]": "[ab]", "[!a]": "[^a]", "[a-b]": "[a-b]"}


@settings(max_examples=300)
@given(st.lists(PIECES, max_size=8), st.text("ab-", max_size=10))
def test_it_says_what_a_regular_expression_says(pieces: list[str], name: str) -> None:
    # Python's re is the reference here: each piece written as the expression that means the same.
    expression = "".join(
        f"(?:{piece[1:-1].replace(',', '|')})"
        if piece.startswith("{")
        else IN_WORDS.get(piece, re.escape(piece))
        for piece in pieces
    )
    expected = re.fullmatch(expression, name, re.DOTALL) is not None
    assert compile_part("".join(pieces)).matches(name) is expected


def test_many_stars_take_steps_in_proportion_to_the_name() -> None:
    """The worst pattern for one that tries every split: here every state set is worked out once at most."""
    pattern = compile_part("*a" * 100 + "b")
    name = "a" * 200
    assert not pattern.matches(name)
    assert len(pattern._known) <= len(name)
    before = len(pattern._known)
    assert not pattern.matches(name)
    assert len(pattern._known) == before
