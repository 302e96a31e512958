"""The log as CSV: RFC 4180 as the standard library's ``csv`` reads it; no cell is a formula."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.log.logtable import HEAD, as_csv, cell
from onecrew.log.timecode import Rate, rate_of
from tests.log.logs import Scribe, an_evening


def rows(scribe: Scribe, rate: Rate | None = None, sync_s: float = 0.0) -> list[dict[str, str]]:
    log = scribe.log()
    zero = log.takes[0].start.t if log.takes else 0.0
    return list(csv.DictReader(io.StringIO(as_csv(log.entries, log.takes, rate, zero, sync_s), newline="")))


def test_every_entry_is_a_row_with_its_take_and_timecode() -> None:
    found = rows(an_evening(), rate_of(25), 3600.0)
    assert len(found) == 10 and tuple(found[0]) == HEAD
    cue = found[2]
    assert (cue["utc"], cue["local_time"], cue["kind"]) == ("2026-01-05T14:02:25.500Z", "15:02:25.500", "cue")
    assert (cue["setup"], cue["take"], cue["take_s"], cue["timecode"]) == ("12A", "1", "4.500", "01:00:04:12")
    assert found[5]["timecode"] == "01:00:31:00"  # the second take, on the same footage time
    assert (found[9]["setup"], found[9]["timecode"]) == ("", "")


def test_without_a_rate_there_is_no_timecode() -> None:
    assert {row["timecode"] for row in rows(an_evening())} == {""}


@given(text=st.text(max_size=40))
def test_whatever_people_write_is_one_cell(text: str) -> None:
    scribe = Scribe()
    scribe.note(text)
    [row] = rows(scribe)
    assert row["text"].startswith("note:")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "=HYPERLINK(1)"])
def test_no_cell_is_a_formula(text: str) -> None:
    # Cells that begin with = + - @ run in spreadsheets (OWASP, CSV injection).
    assert cell(text)[0] == "'"
