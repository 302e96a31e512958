"""Lines of the log: whole, read back alike, and never mistaken for another."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.log.entries import HEAD, Entry, as_json, from_line, to_line

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
DATA: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(-1e6, 1e6) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
ENTRIES = st.builds(
    Entry,
    n=st.integers(1, 10**9),
    at=st.integers(0, 4 * 10**12).map(lambda ms: ms / 1000),
    offset_s=st.integers(-23 * 60, 23 * 60).map(lambda minutes: 60 * minutes),
    mono=st.integers(0, 10**12).map(lambda us: us / 1e6),
    kind=st.sampled_from(["take", "cue", "light", "show", "output", "engine", "note"]),
    what=TEXT,
    text=TEXT,
    data=st.dictionaries(TEXT.filter(lambda key: key not in HEAD), DATA, max_size=3),
)


@given(entry=ENTRIES)
def test_an_entry_is_read_back_as_it_was_written(entry: Entry) -> None:
    line = to_line(entry)
    assert line.endswith(b"\n") and line.count(b"\n") == 1
    assert len(line.decode().splitlines()) == 1  # no other line end of Unicode either
    back = from_line(line)
    assert back is not None
    assert back.at == pytest.approx(entry.at, abs=6e-4)  # milliseconds
    assert (back.n, back.offset_s, back.kind, back.what, back.text, back.data) == (
        entry.n, entry.offset_s, entry.kind, entry.what, entry.text, entry.data
    )  # fmt: skip
    assert back.mono == pytest.approx(entry.mono, abs=1e-6)


@given(entry=ENTRIES, cut=st.floats(0.0, 1.0))
def test_a_torn_line_is_no_entry(entry: Entry, cut: float) -> None:
    line = to_line(entry)
    torn = line[: int(cut * (len(line) - 2))]
    assert from_line(torn) is None


@given(noise=st.binary(max_size=200))
def test_noise_is_no_entry_and_no_crash(noise: bytes) -> None:
    assert from_line(noise) is None


@pytest.mark.parametrize(
    "change",
    [
        {"at": "soon"},
        {"at": "2026-01-05T14:00:00"},
        {"n": None},
        {"local": "+99:00"},
        {"local": ""},
        {"mono": "x"},
    ],
)
def test_a_line_with_a_wrong_head_is_no_entry(change: dict[str, Any]) -> None:
    good = as_json(Entry(1, 1.7e9, 0, 5.0, "note", "note", "x"))
    assert from_line(json.dumps(good).encode()) is not None
    assert from_line(json.dumps(good | change).encode()) is None


def test_times_are_iso_8601_with_milliseconds_and_the_offset_of_the_wall() -> None:
    # 1 767 621 731.123 s after the epoch is 2026-01-05 14:02:11.123 UTC (datetime of the standard library).
    entry = Entry(1, 1767621731.1234, 3600, 12.3456789, "note", "note", "x")
    line = as_json(entry)
    assert (line["at"], line["local"], line["mono"]) == ("2026-01-05T14:02:11.123Z", "+01:00", 12.345679)
    assert entry.local.strftime("%H:%M") == "15:02"
    assert as_json(Entry(1, 0.0, -12600, 0.0, "note", "note", "x"))["local"] == "-03:30"


def test_half_a_surrogate_pair_does_not_spoil_the_line() -> None:
    line = to_line(Entry(1, 0.0, 0, 0.0, "note", "note", "x", {"note": "\ud83d"}))
    back = from_line(line)
    assert back is not None and back.data["note"] == "\ud83d"
