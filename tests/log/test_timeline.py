"""OpenTimelineIO: what is written is read back by the library of that name."""

from __future__ import annotations

import json
from typing import Any

import opentimelineio as otio
import pytest

from onecrew.log.cut import TOLD, Clip, Event, clips_of_takes
from onecrew.log.edl import edit_list
from onecrew.log.timecode import rate_of, seconds_of
from onecrew.log.timeline import timeline
from tests.log.logs import Scribe, an_evening


def read(text: str) -> otio.schema.Timeline:
    found = otio.adapters.read_from_string(text, "otio_json")
    assert isinstance(found, otio.schema.Timeline)
    return found


def test_takes_and_markers_as_the_library_reads_them() -> None:
    log = an_evening().log()
    clips = clips_of_takes(log.takes, TOLD, log.takes[0].start.t, 3600.0)
    found = read(timeline(clips, "The Night Baker", rate_of(25)))
    assert found.name == "The Night Baker"
    assert found.global_start_time == otio.opentime.RationalTime(90000, 25)
    first, second = found.find_clips()
    assert first.name == "take 1 of setup 12A"
    assert first.source_range.start_time == otio.opentime.RationalTime(90000, 25)
    assert first.source_range.duration == otio.opentime.RationalTime(250, 25)
    assert second.range_in_parent().start_time.to_frames() == 750  # a gap stands between the two
    assert dict(first.metadata["onecrew"])["reel"] == "12A_1"
    assert [(one.name, one.marked_range.start_time.to_frames()) for one in first.markers] == [
        ("take 1 of setup 12A starts", 90000),
        ("cue 3 Ovens on, in 2 s", 90112),
        ("take 1 of setup 12A ends", 90249),
    ]


def test_a_cue_in_a_log_has_the_length_of_its_fade_and_odd_times_have_none() -> None:
    scribe = Scribe()
    scribe.start("12A", 1)
    times: tuple[dict[str, Any], ...] = (
        {"fade": {"in_s": 2.0, "out_s": 4.0}, "delay_s": 1.0},
        {"fade_s": 0.5},
        {"fade": {"in_s": "x"}},
        {},
    )
    for data in times:
        scribe.add("cue", "go", "go: cue 3", **data)
    log = scribe.log()
    (clip,) = clips_of_takes(log.takes, TOLD, 0.0, 0.0)
    assert [event.fade_s for event in clip.events[1:]] == [5.0, 0.5, 0.0, 0.0]


@pytest.mark.parametrize("fps", [23.976, 24, 25, 29.97, 50, 59.94, 60])
def test_times_are_exact_frames_at_every_rate_and_a_fade_is_a_range(fps: float) -> None:
    rate = rate_of(fps)
    first = 17982  # at 29.97 drop-frame the label 00:10:00;00
    event = Event(seconds_of(first + 48, rate), "cue", "cue 3", "oven 40 %", seconds_of(40, rate))
    late = Event(seconds_of(first + 90, rate), "cue", "cue 4", "", 10.0)
    clip = Clip("take", "A_1", seconds_of(first, rate), seconds_of(first + 100, rate), (event, late))
    (found,) = read(timeline([clip], "", rate)).find_clips()
    assert found.source_range.start_time.value == first
    assert found.source_range.start_time.rate == pytest.approx(float(rate.fps), abs=1e-9)
    fade, cut_off = (one.marked_range for one in found.markers)
    assert (fade.start_time.value, fade.duration.value) == (first + 48, 40)
    assert (cut_off.start_time.value, cut_off.duration.value) == (first + 90, 10)  # no further than the clip
    assert found.markers[0].comment == "oven 40 %"
    if fps == 29.97:
        shown = otio.opentime.to_timecode(found.source_range.start_time, 30000 / 1001, drop_frame=True)
        assert shown == "00:10:00;00"


def test_names_keep_every_letter() -> None:
    name = 'Bäckerei – ночь 夜 "\\'
    clip = Clip(name, name, 0.0, 4.0, (Event(1.0, "note", name),), (name,))
    (found,) = read(timeline([clip], name, rate_of(25))).find_clips()
    assert (found.name, found.markers[0].name, found.metadata["onecrew"]["comments"][0]) == (name, name, name)


def test_it_is_what_the_library_itself_would_write() -> None:
    """No key more and none less than the schemas have, as the library knows them."""
    clip = Clip("take", "A_1", 2.0, 4.0, (Event(3.0, "cue", "cue 3", "", 0.5),))
    text = timeline([Clip("before", "A_0", 0.0, 1.0, ()), clip], "T", rate_of(25))
    again = json.loads(otio.adapters.write_to_string(read(text), "otio_json"))
    assert without_colour(json.loads(text)) == without_colour(again)


def without_colour(value: object) -> object:
    """Without the colour of items, which younger versions of the library add and older ones do not know."""
    if isinstance(value, list):
        return [without_colour(one) for one in value]
    if isinstance(value, dict):
        return {key: without_colour(one) for key, one in value.items() if (key, one) != ("color", None)}
    return value


def test_a_take_has_the_name_of_the_cameras_clip() -> None:
    scribe = Scribe()
    scribe.start("Küche", 1)
    scribe.t = 4.0
    scribe.end("Küche", 1)
    scribe.add("note", "clip", "", setup="Küche", number=1, clip="A003C011")
    scribe.add("note", "clip", "", setup="Küche", number=1, clip="A003C012_ñ")  # mended: the last one counts
    log = scribe.log()
    clips = clips_of_takes(log.takes, TOLD, 0.0, 0.0)
    (found,) = read(timeline(clips, "", rate_of(29.97))).find_clips()
    assert found.name == "take 1 of setup Küche"
    assert found.media_reference.name == "A003C012_ñ"
    (event,) = otio.adapters.read_from_string(edit_list(clips, "", rate_of(25)), "cmx_3600").find_clips()
    assert event.name == "A003C012_n"


def test_a_take_without_one_is_known_by_setup_and_number() -> None:
    clips = clips_of_takes(an_evening().log().takes, TOLD, 0.0, 0.0)
    found = read(timeline(clips, "", rate_of(25))).find_clips()
    assert [one.media_reference.name for one in found] == ["12A_1", "12A_2"]
