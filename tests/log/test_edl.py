"""EDL: read by OpenTimelineIO's CMX 3600 adapter, markers at the right frames, drop-frame too."""

from __future__ import annotations

import re

import opentimelineio as otio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.errors import Trouble
from onecrew.log.cut import TOLD, Clip, Event, clips_of_takes
from onecrew.log.edl import REEL, edit_list, reel
from onecrew.log.timecode import frame_of, rate_of, seconds_of
from tests.log.logs import Scribe, an_evening


def read(text: str, fps: float) -> otio.schema.Timeline:
    timeline = otio.adapters.read_from_string(text, "cmx_3600", rate=fps)
    assert isinstance(timeline, otio.schema.Timeline)
    return timeline


def the_clips(timeline: otio.schema.Timeline) -> list[otio.schema.Clip]:
    return list(timeline.find_clips())


def comments_of(clip: otio.schema.Clip) -> list[str]:
    return [str(line).removeprefix("COMMENT: ") for line in clip.metadata["cmx_3600"]["comments"]]


def marks_of(clip: otio.schema.Clip) -> list[tuple[str, str]]:
    """Timecode and text of the comments that begin with a timecode."""
    found = (re.fullmatch(r"(\d\d:\d\d:\d\d[:;]\d\d) ?(.*)", line) for line in comments_of(clip))
    return [(match[1], match[2]) for match in found if match]


def test_takes_as_a_library_reads_them() -> None:
    log = an_evening().log()
    clips = clips_of_takes(log.takes, TOLD, log.takes[0].start.t, 3600.0)
    timeline = read(edit_list(clips, "The Night Baker", rate_of(25)), 25.0)
    assert timeline.name == "The Night Baker"
    first, second = the_clips(timeline)
    assert first.name == "take 1 of setup 12A"
    assert first.source_range.start_time == otio.opentime.RationalTime(90000, 25)
    assert first.source_range.duration == otio.opentime.RationalTime(250, 25)
    assert second.source_range.start_time == otio.opentime.RationalTime(90000 + 750, 25)
    assert comments_of(first)[:2] == ["bad", "door"]
    assert [(text, otio.opentime.from_timecode(at, 25).to_frames()) for at, text in marks_of(first)] == [
        ("take 1 of setup 12A starts", 90000),
        ("cue 3 Ovens on, in 2 s", 90000 + 112),
        ("take 1 of setup 12A ends", 90000 + 249),
    ]
    assert first.metadata["cmx_3600"]["reel"] == "12A_1"


@pytest.mark.parametrize("fps", [29.97, 59.94])
def test_markers_in_drop_frame_timecode(fps: float) -> None:
    rate = rate_of(fps)
    sync = seconds_of(frame_of("00:59:58;10", rate), rate)
    events = tuple(Event(sync + after, "cue", f"after {after}") for after in (0.0, 1.5, 62.0, 600.25))
    text = edit_list([Clip("take", "1_1", sync, sync + 700.0, events)], "x", rate)
    assert "FCM: DROP FRAME" in text
    exact = otio.opentime.RationalTime.nearest_smpte_timecode_rate(fps)
    # What OpenTimelineIO takes the labels for, in its own drop-frame arithmetic.
    [clip] = the_clips(read(text, exact))
    for (label, _), event in zip(marks_of(clip), events, strict=True):
        assert ";" in label
        time = otio.opentime.from_timecode(label, exact)
        assert time.value / exact == pytest.approx(event.at_s, abs=1.0 / exact)
    assert clip.source_range.start_time.to_frames() == frame_of("00:59:58;10", rate)


@pytest.mark.parametrize("fps", [23.976, 24, 25, 30, 50, 60])
def test_other_rates_are_non_drop(fps: float) -> None:
    rate = rate_of(fps)
    text = edit_list([Clip("take", "1_1", 10.0, 20.0, (Event(12.0, "cue", "x"),))], "x", rate)
    assert "FCM: NON-DROP FRAME" in text and ";" not in text
    [clip] = the_clips(read(text, float(rate.fps)))
    assert clip.source_range.duration.to_frames() == pytest.approx(10 * float(rate.fps), abs=1)


def test_the_lines_of_the_format() -> None:
    # The layout that OpenTimelineIO's reader documents: number, reel, track, edit, four timecodes.
    clip = Clip("take 2 of setup 7", "7_2", 3600.0, 3605.0, (Event(3602.0, "light", "lamp"),))
    lines = edit_list([clip], "Show", rate_of(24)).splitlines()
    assert lines == [
        "TITLE: Show",
        "FCM: NON-DROP FRAME",
        "",
        "001  7_2      V     C        01:00:00:00 01:00:05:00 01:00:00:00 01:00:05:00",
        "* FROM CLIP NAME: take 2 of setup 7",
        "* COMMENT: 01:00:02:00 lamp",
    ]


def test_a_long_note_is_all_there() -> None:
    note = " ".join(f"word{n}" for n in range(100))
    clip = Clip("take", "1_1", 0.0, 5.0, (Event(2.0, "note", note),), (note,))
    lines = [line for line in edit_list([clip], "x", rate_of(25)).splitlines() if "COMMENT" in line]
    assert all(len(line) <= 220 for line in lines)
    said = " ".join(line.removeprefix("* COMMENT: ") for line in lines)
    assert said == f"{note} 00:00:02:00 {note}"


def test_a_take_shorter_than_a_frame_has_one_and_its_markers_in_it() -> None:
    clip = Clip("take", "1_1", 10.0, 10.001, (Event(10.0, "cue", "in"), Event(10.001, "cue", "out")))
    [read_back] = the_clips(read(edit_list([clip], "x", rate_of(25)), 25.0))
    assert read_back.source_range.duration.to_frames() == 1
    assert [at for at, _ in marks_of(read_back)] == ["00:00:10:00", "00:00:10:00"]


def test_the_clip_of_the_camera_names_the_event_and_the_take_stays_beside_it() -> None:
    clip = Clip("take 2 of setup 7", "7_2", 0.0, 5.0, (), camera="A004C012")
    lines = edit_list([clip], "x", rate_of(25)).splitlines()
    assert lines[-2:] == ["* FROM CLIP NAME: A004C012", "* COMMENT: take 2 of setup 7"]


@given(text=st.text(max_size=80), name=st.text(max_size=30))
@settings(max_examples=40)
def test_whatever_people_write_it_can_be_read_back(text: str, name: str) -> None:
    clips = [
        Clip(f"take {name}", f"{name}_1", at, at + 9.0, (Event(at, "note", f"note: {text}"),), (f"x {text}",))
        for at in (10.0, 20.0)
    ]
    written = edit_list(clips, name or "x", rate_of(25))
    assert written.isascii() and len(written.splitlines()) >= 12  # more where signs are spelt out
    first = the_clips(read(written, 25.0))[0]
    assert len(comments_of(first)) >= 2 and len(marks_of(first)) == 1
    assert len(reel(f"{name}_1")) <= REEL


def test_a_take_without_an_end_does_not_reach_into_the_next() -> None:
    scribe = Scribe()
    scribe.start("1", 1)
    scribe.t = 2.0
    scribe.start("1", 2)
    scribe.t = 9.0
    scribe.end("1", 2)
    log = scribe.log()
    clips = clips_of_takes(log.takes, TOLD, 0.0, 0.0)
    first, second = the_clips(read(edit_list(clips, "x", rate_of(25)), 25.0))
    assert first.source_range.duration.to_frames() == 50
    assert second.source_range.duration.to_frames() == 175


def test_more_takes_than_the_format_holds_are_told() -> None:
    clip = Clip("x", "x", 0.0, 1.0, ())
    with pytest.raises(Trouble, match="999"):
        edit_list([clip] * 1000, "x", rate_of(25))


def test_the_number_of_a_take_stays_in_a_short_reel() -> None:
    assert reel("kitchen, night_12").endswith("_12")
    assert reel("12A_3") == "12A_3"


def test_names_that_begin_alike_or_have_no_letters_of_ascii_are_other_reels() -> None:
    names = ("By the oven, from the left_1", "By the oven, from the right_1", "夜_1", "朝_1")
    assert len({reel(name) for name in names}) == len(names)


def test_a_number_longer_than_a_reel_keeps_its_end() -> None:
    assert reel("a_1234567890") == "_34567890"[-8:]
