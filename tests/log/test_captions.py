"""Captions: read by general libraries (webvtt-py, srt), on the time of the footage, whatever a note says."""

from __future__ import annotations

import io
from itertools import pairwise
from typing import Any

import pytest
import srt
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from onecrew.log.captions import captions_of, sub_rip, web_vtt
from onecrew.log.cut import TOLD, Clip, Event, clips_of_takes
from onecrew.log.text import clean
from tests.log.logs import an_evening

TEXT = st.text(max_size=50).map(clean).filter(bool)


def clips(sync_s: float = 0.0) -> list[Clip]:
    log = an_evening().log()
    return clips_of_takes(log.takes, TOLD, log.takes[0].start.t, sync_s)


def vtt(content: str) -> Any:
    return webvtt.from_buffer(io.StringIO(content))


def test_webvtt_as_a_library_reads_it() -> None:
    read = vtt(web_vtt(captions_of(clips()), "The Night Baker"))
    times = [(caption.start, caption.end) for caption in read]
    assert times[:3] == [
        ("00:00:00.000", "00:00:04.500"),
        ("00:00:04.500", "00:00:10.000"),
        ("00:00:10.000", "00:00:12.000"),
    ]
    assert read[1].text.splitlines() == ["cue 3 Ovens on, in 2 s", "window 12 % 5600 K, oven 35 %"]
    assert (read[3].start, read[4].text) == ("00:00:30.000", "window 22 % 3400 K")
    assert [caption.identifier for caption in read] == ["1", "2", "3", "4", "5", "6"]


def test_a_title_is_one_line_of_a_note_and_nothing_else() -> None:
    one = [Clip("x", "x", 0.0, 1.0, (Event(0.0, "cue", "a"),))]
    made = web_vtt(captions_of(one), "Kitchen\n\nSTYLE\n::cue { color: black }\x1b[2J\u202e")
    assert made.split("\n\n")[:3] == [
        "WEBVTT",
        "NOTE Kitchen STYLE ::cue { color: black }\ufffd[2J\ufffd",
        "1\n00:00:00.000 --> 00:00:02.000\na\n",
    ]


def test_subrip_as_a_library_reads_it() -> None:
    read = list(srt.parse(sub_rip(captions_of(clips()))))
    assert [part.index for part in read] == [1, 2, 3, 4, 5, 6]
    assert read[1].start.total_seconds() == 4.5
    assert read[1].content == "cue 3 Ovens on, in 2 s\nwindow 12 % 5600 K, oven 35 %"


def test_the_times_of_the_format() -> None:
    # SubRip: 4.5 s is 00:00:04,500 (srt 3.5.3); WebVTT (W3C): minutes stay below 60, hours go on.
    one = [Clip("x", "x", 4.5, 3 * 3600 + 61.25, (Event(4.5, "cue", "a"),))]
    assert "00:00:04,500 --> 03:01:01,250" in sub_rip(captions_of(one))
    assert "00:00:04.500 --> 03:01:01.250" in web_vtt(captions_of(one), "x")
    near = [Clip("x", "x", 1.001, 9.0006, (Event(1.001, "cue", "a"),))]
    assert "00:00:01,001 --> 00:00:09,001" in sub_rip(captions_of(near))  # the nearest millisecond


def test_sync_moves_everything() -> None:
    read = vtt(web_vtt(captions_of(clips(sync_s=3600.0)), "x"))
    assert read[0].start == "01:00:00.000" and read[1].start == "01:00:04.500"


def test_edits_of_the_show_are_no_captions() -> None:
    assert "store" not in web_vtt(captions_of(clips()), "x")


def test_what_happens_within_a_frame_is_one_caption() -> None:
    events = (Event(1.0, "cue", "a"), Event(1.03, "light", "b"), Event(2.0, "cue", "c"))
    captions = captions_of([Clip("x", "x", 0.0, 3.0, events)])
    assert [(c.begin_s, c.end_s, c.lines) for c in captions] == [(1.0, 2.0, ("a", "b")), (2.0, 4.0, ("c",))]


def test_a_run_of_events_is_cut_a_frame_after_its_first() -> None:
    """A fader that is moved for seconds is not one caption that says all of it at its beginning."""
    events = tuple(Event(1.0 + n * 0.03, "light", str(n)) for n in range(4))
    captions = captions_of([Clip("x", "x", 0.0, 3.0, events)])
    assert [c.lines for c in captions] == [("0", "1"), ("2", "3")]


def test_what_lies_before_the_footage_is_left_out() -> None:
    events = (Event(-5.0, "cue", "gone"), Event(-1.0, "cue", "half"), Event(2.0, "cue", "whole"))
    captions = captions_of([Clip("x", "x", -5.0, 3.0, events)])
    assert [(c.begin_s, c.lines) for c in captions] == [(0.0, ("half",)), (2.0, ("whole",))]


@given(texts=st.lists(st.tuples(st.floats(0.0, 7200.0), TEXT, TEXT), min_size=1, max_size=6), title=TEXT)
def test_whatever_people_write_the_files_can_be_read_back(
    texts: list[tuple[float, str, str]], title: str
) -> None:
    events = tuple(Event(at, "note", text, light) for at, text, light in sorted(texts))
    captions = captions_of([Clip("x", "x", 0.0, 7300.0, events)])
    read = vtt(web_vtt(captions, title))
    assert len(read) == len(captions)
    for caption, back in zip(captions, read, strict=True):
        assert back.start_in_seconds == pytest.approx(int(caption.begin_s), abs=1)
    parts = list(srt.parse(sub_rip(captions)))
    assert len(parts) == len(captions)
    for one, after in pairwise(captions):
        assert one.begin_s < one.end_s <= max(after.begin_s, one.begin_s + 0.001)


def test_text_that_would_act_is_shown() -> None:
    hostile = "a --> b <i>x</i> & <script>"
    one = [Clip("x", "x", 0.0, 3.0, (Event(0.0, "note", hostile), Event(1.0, "note", "next")))]
    text = web_vtt(captions_of(one), "--> <b>")
    assert text.count("-->") == 2 and "<" not in text.replace("-->", "")
    read = vtt(text)
    assert len(read) == 2
    assert len(list(srt.parse(sub_rip(captions_of(one))))) == 2


def test_markup_in_a_note_is_no_markup_in_a_subrip_file() -> None:
    # What players take for markup: tags as of HTML, overrides in braces (common practice, no standard).
    one = [Clip("take", "1_1", 0.0, 9.0, (Event(1.0, "note", "<b>a</b> {\\an8}b --> c"),))]
    [caption] = srt.parse(sub_rip(captions_of(one)))
    assert caption.content == "‹b›a‹/b› (/an8)b → c"
