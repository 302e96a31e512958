"""Elements: whatever text goes in, what a parser reads back is that text, and no element more.

Read back by html5lib, a parser of the WHATWG HTML standard.
"""

from __future__ import annotations

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.log.text import clean
from onecrew.sheet.markup import el, joined

HOSTILE = ['" onmouseover="alert(1)', "' x='", "<script>alert(1)</script>", "&quot;&amp;", 'a"b', "]]>"]
TEXT = st.one_of(st.sampled_from(HOSTILE), st.text(alphabet="abc <>&\"'=/-", max_size=20))


@given(TEXT)
def test_an_attribute_holds_the_text_and_opens_no_other(text: str) -> None:
    (found,) = html5lib.parseFragment(el("p", "x", title=text), namespaceHTMLElements=False)
    assert (found.tag, found.text, list(found)) == ("p", "x", [])
    assert set(found.attrib) == {"title"}
    assert found.attrib["title"].strip() == clean(text).strip()


@given(TEXT, TEXT)
def test_text_inside_makes_no_element(text: str, more: str) -> None:
    (found,) = html5lib.parseFragment(el("p", text, more), namespaceHTMLElements=False)
    assert list(found) == []
    assert found.text is None or "".join(found.text.split()) == "".join((clean(text) + clean(more)).split())


@pytest.mark.parametrize("text", HOSTILE)
def test_a_quote_never_ends_an_attribute(text: str) -> None:
    assert el("p", class_=text).count('"') == 2


def test_markup_goes_in_as_it_is_and_an_attribute_without_a_value_is_left_out() -> None:
    assert joined(el("b", "1 < 2"), " & ") == "<b>1 &lt; 2</b> &amp; "
    assert el("rect", stroke_width=1.5, x=0, id=None) == '<rect stroke-width="1.5" x="0"/>'
