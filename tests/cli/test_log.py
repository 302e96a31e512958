"""``onecrew log``: what is printed, filtered, exported, and what is refused with a sentence."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import opentimelineio as otio
import pytest

from onecrew.cli.log_choice import since
from onecrew.errors import Misuse
from onecrew.log.entries import to_line
from tests.cli.conftest import Ended
from tests.fakes.documents import document
from tests.log.logs import an_evening

Run = Callable[..., Ended]


@pytest.fixture(autouse=True)
def evening() -> Path:
    path = Path("bakery.log.jsonl")
    path.write_bytes(b"".join(to_line(entry) for entry in an_evening().entries))
    return path


def show_file(fps: float = 25.0) -> None:
    camera = {"fps": fps}
    content = {"format": "onecrew-show", "version": 2, "name": "The Bakery", "camera": camera}
    Path("bakery.json").write_text(json.dumps(document(content)))


def test_every_entry_is_a_line_with_its_local_time(onecrew: Run) -> None:
    ended = onecrew("log", "bakery.json")
    lines = ended.out.splitlines()
    assert (ended.status, len(lines)) == (0, 10)
    assert lines[2] == "2026-01-05 15:02:25.500  cue     go: cue 3 Ovens on, in 2 s"


def test_one_take_with_the_time_since_its_start(onecrew: Run) -> None:
    lines = onecrew("log", "bakery.json", "--take", "1", "--setup", "12A").out.splitlines()
    assert len(lines) == 3
    assert "    +4.50 s  cue     go: cue 3 Ovens on" in lines[1]


def test_kinds_and_the_newest(onecrew: Run) -> None:
    assert len(onecrew("log", "bakery.json", "--kind", "take,note").out.splitlines()) == 6
    assert len(onecrew("log", "bakery.json", "--kind", "take", "--kind", "cue").out.splitlines()) == 5
    assert onecrew("log", "bakery.json", "-n", "1").out.endswith("note: lunch\n")
    assert onecrew("log", "bakery.json", "--since", "2026-01-05T14:03:00Z").out.count("\n") == 3
    assert onecrew("log", "bakery.json", "--since", "1h").out == ""


def test_the_takes_as_a_table(onecrew: Run) -> None:
    table = onecrew("log", "bakery.json", "--takes").out.splitlines()
    first = "12A       1  2026-01-05 15:02:21    10 s  cue 2 Before dawn        no    door"
    assert table[1] == first
    assert table[2].endswith("good  use this one")
    takes = onecrew("log", "bakery.json", "--takes", "--json").json
    assert [(take["number"], take["good"], take["length_s"]) for take in takes] == [
        (1, False, 10.0),
        (2, True, 10.0),
    ]


def test_the_clip_of_the_camera_stands_with_its_take(onecrew: Run, evening: Path) -> None:
    scribe = an_evening()
    scribe.clip("A003C012", "12A", 2)
    evening.write_bytes(b"".join(to_line(entry) for entry in scribe.entries))
    table = onecrew("log", "bakery.json", "--takes").out.splitlines()
    assert table[2].endswith("A003C012  good  use this one") and "A003C012" not in table[1]
    assert [take["clip"] for take in onecrew("log", "bakery.json", "--takes", "--json").json] == [
        "",
        "A003C012",
    ]


def test_json_is_the_entries_as_they_stand(onecrew: Run, evening: Path) -> None:
    found = onecrew("log", "bakery.json", "--json").json
    assert found == [json.loads(line) for line in evening.read_text().splitlines()]


def test_exports_to_files_and_to_standard_output(onecrew: Run) -> None:
    show_file()
    exports = (
        "--csv",
        "a.csv",
        "--vtt",
        "a.vtt",
        "--srt",
        "a.srt",
        "--edl",
        "a.edl",
        "--otio",
        "a.otio",
        "--sync",
        "01:00:00:00",
    )
    ended = onecrew("log", "bakery.json", *exports)
    assert (ended.status, ended.err) == (0, "")
    assert len(ended.out.splitlines()) == 5
    assert "wrote a.edl: markers, edit decision list, of 2 takes\n" in ended.out
    rows = list(csv.DictReader(io.StringIO(Path("a.csv").read_text())))
    assert len(rows) == 10 and rows[2]["timecode"] == "01:00:04:12"
    assert Path("a.vtt").read_text().startswith("WEBVTT\n\nNOTE The Night Baker\n\n1\n01:00:00.000 --> ")
    assert "01:00:04,500 --> 01:00:10,000" in Path("a.srt").read_text()
    assert onecrew("log", "bakery.json", "--vtt", "-").out.startswith("WEBVTT")
    assert "wrote" not in onecrew("log", "bakery.json", "--vtt", "-", "--csv", "b.csv").out
    assert "* COMMENT: 01:00:04:12 cue 3 Ovens on" in Path("a.edl").read_text()
    clips = otio.adapters.read_from_file("a.otio").find_clips()
    assert [one.source_range.start_time.to_frames() for one in clips] == [90000, 90750]


def test_sync_as_seconds_and_as_the_time_of_day(onecrew: Run) -> None:
    show_file()
    onecrew("log", "bakery.json", "--take", "1", "--edl", "a.edl", "--sync", "90.5")
    assert "00:01:30:12" in Path("a.edl").read_text()
    onecrew("log", "bakery.json", "--take", "1", "--edl", "a.edl", "--sync", "clock", "--replace")
    assert "15:02:21:00 15:02:31:00" in Path("a.edl").read_text()


def test_the_rate_is_that_of_the_take_then_of_the_show_then_asked_for(onecrew: Run, evening: Path) -> None:
    evening.write_bytes(b"".join(to_line(entry) for entry in an_evening().entries[:1]))
    ended = onecrew("log", "bakery.json", "--edl", "a.edl")
    assert ended.status == 2 and "add --fps" in ended.err
    show_file(59.94)
    assert onecrew("log", "bakery.json", "--edl", "a.edl").status == 0
    assert "FCM: DROP FRAME" in Path("a.edl").read_text()


def test_drop_frame_comes_from_the_camera_notes_or_from_fps(onecrew: Run, evening: Path) -> None:
    evening.write_bytes(b"".join(to_line(entry) for entry in an_evening(29.97).entries))
    onecrew("log", "bakery.json", "--take", "1", "--edl", "a.edl", "--sync", "00:00:59;20")
    assert "FCM: DROP FRAME" in Path("a.edl").read_text() and "00:01:04;06" in Path("a.edl").read_text()
    onecrew("log", "bakery.json", "--take", "1", "--edl", "a.edl", "--non-drop", "--replace")
    assert "NON-DROP" in Path("a.edl").read_text()
    onecrew("log", "bakery.json", "--take", "1", "--edl", "a.edl", "--fps", "24", "--replace")
    assert "00:00:04:12" in Path("a.edl").read_text()


def test_a_file_that_is_there_is_written_over_only_where_that_is_said(onecrew: Run) -> None:
    Path("a.vtt").write_text("of this morning")
    words = ("log", "bakery.json", "--csv", "a.csv", "--vtt", "a.vtt")
    ended = onecrew(*words)
    assert ended.status == 1 and "a.vtt is there already and was not written over" in ended.err
    assert "--replace" in ended.err and ended.err.count("\n") == 1
    assert Path("a.vtt").read_text() == "of this morning" and not Path("a.csv").exists(), "all or nothing"
    assert onecrew(*words, "--replace").status == 0
    assert Path("a.vtt").read_text().startswith("WEBVTT") and Path("a.csv").exists()


def test_what_is_no_plain_file_is_never_replaced(onecrew: Run) -> None:
    os.mkfifo("pipe.csv")
    ended = onecrew("log", "bakery.json", "--csv", "pipe.csv", "--replace")
    assert ended.status == 1 and "pipe.csv is not a plain file" in ended.err
    assert stat.S_ISFIFO(Path("pipe.csv").stat().st_mode)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--take", "x"], "is not a take"),
        (["--kind", "lamps"], "there is no kind"),
        (["--since", "soon"], "is not a time"),
        (["--since", "25:00"], "not a time of day"),
        (["-n", "0"], "from 1 on"),
        (["--sync", "1"], "belongs to an export"),
        (["--follow", "--take", "1"], "leave out --take"),
        (["--follow", "--edl", "x.edl"], "leave out --edl"),
        (["--edl", "a.edl", "--fps", "120"], "has no timecode"),
        (["--follow", "--otio", "x.otio"], "leave out --otio"),
        (["--otio", "a.otio", "--fps", "120"], "has no timecode"),
        (["--edl", "a.edl", "--fps", "nan"], "nan fps has no timecode"),
        (["--vtt", "a.vtt", "--fps", "inf"], "inf fps has no timecode"),
        (["--edl", "a.edl", "--fps", "25", "--sync", "00:00:00;00"], "has none"),
        (["--edl", "a.edl", "--fps", "29.97", "--sync", "00:01:00;00"], "does not exist"),
        (["--vtt", "a.vtt", "--fps", "23.976", "--sync", "clock"], "does not keep to the clock"),
        (["--csv", "bakery.log.jsonl"], "not written over"),
    ],
)
def test_misuse_ends_with_2_and_one_sentence(words: list[str], said: str, onecrew: Run) -> None:
    ended = onecrew("log", "bakery.json", *words)
    assert (ended.status, ended.out) == (2, "")
    assert said in ended.err and ended.err.count("\n") == 1
    assert not Path("a.edl").exists() and not Path("a.vtt").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nothing.json"], "no show"),
        (["bakery.json", "--take", "7"], "the log has no take 7; the latest are 12A/1, 12A/2"),
        (["bakery.json", "--setup", "9"], "no take of setup 9"),
        (["bakery.json", "--csv", "nowhere/a.csv"], "cannot be written"),
    ],
)
def test_failure_ends_with_1_and_one_sentence(words: list[str], said: str, onecrew: Run) -> None:
    ended = onecrew("log", *words)
    assert ended.status == 1
    assert said in ended.err and ended.err.count("\n") == 1


def test_a_show_is_never_written_over(onecrew: Run) -> None:
    show_file()
    before = Path("bakery.json").read_bytes()
    Path("other.json").write_bytes(before)
    assert onecrew("log", "bakery.json", "--csv", "other.json").status == 1
    assert Path("other.json").read_bytes() == before


def test_without_a_log_there_is_a_sentence(onecrew: Run, evening: Path) -> None:
    show_file()
    evening.unlink()
    ended = onecrew("log", "bakery.json")
    assert ended.status == 1 and "one begins when an engine runs the show" in ended.err


def test_what_people_wrote_does_nothing_to_the_terminal(onecrew: Run, evening: Path) -> None:
    scribe = an_evening()
    scribe.note("\x1b[2Jgone\u202e")
    evening.write_bytes(b"".join(to_line(entry) for entry in scribe.entries))
    out = onecrew("log", "bakery.json").out
    assert "\x1b" not in out and "\u202e" not in out and "gone" in out


def test_since() -> None:
    now = datetime(2026, 1, 5, 14, 0, tzinfo=timezone(timedelta(hours=1)))
    assert since("30m", now) == now.timestamp() - 1800
    assert since("1.5 h", now) == now.timestamp() - 5400
    assert since("13:30", now) == now.timestamp() - 1800
    assert since("15:00", now) == now.timestamp() - 23 * 3600  # of yesterday
    assert since("2026-01-05T13:00:00+01:00", now) == now.timestamp() - 3600
    with pytest.raises(Misuse):
        since("never", now)


def test_a_line_that_is_torn_is_passed_over_and_said(onecrew: Run, evening: Path) -> None:
    evening.write_bytes(evening.read_bytes()[:-30])
    ended = onecrew("log", "bakery.json")
    assert (ended.status, len(ended.out.splitlines())) == (0, 9)
    assert "a line is torn in" in ended.err and "passed over" in ended.err
