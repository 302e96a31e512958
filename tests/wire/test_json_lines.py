"""The lines of the link: cut, bounded, and refused with a sentence."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.network.json_lines import LineBuffer, pack, unpack

MESSAGES = st.dictionaries(
    st.text(),
    st.one_of(st.integers(-(2**53), 2**53), st.text(), st.booleans(), st.none(), st.lists(st.text())),
)


@given(st.lists(MESSAGES, max_size=5), st.lists(st.integers(0, 400), max_size=6))
def test_messages_survive_any_cutting_of_the_stream(
    messages: list[dict[str, object]], cuts: list[int]
) -> None:
    stream = b"".join(pack(message) for message in messages)
    edges = sorted({0, len(stream), *(min(cut, len(stream)) for cut in cuts)})
    buffer = LineBuffer(1 << 20)
    heard = [unpack(line) for a, b in itertools.pairwise(edges) for line in buffer.feed(stream[a:b])]
    assert heard == messages


@given(st.binary(max_size=200))
def test_any_bytes_are_a_message_or_one_sentence(line: bytes) -> None:
    try:
        assert isinstance(unpack(line), dict)
    except ValueError as error:
        assert "JSON object" in str(error)


def test_deep_nesting_is_refused_not_crashed() -> None:
    with pytest.raises(ValueError, match="JSON object"):
        unpack(b"[" * 100_000)


@pytest.mark.parametrize("data", [b"x" * 11, b"x" * 11 + b"\n", b"ok\n" + b"x" * 12])
def test_a_line_over_the_limit_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match="at most 10 bytes"):
        list(LineBuffer(10).feed(data))
