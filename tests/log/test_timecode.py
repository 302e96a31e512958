"""Timecode labels: the drop-frame rule of SMPTE ST 12-1, and the library ``timecode`` over whole days."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timecode import Timecode  # type: ignore[attr-defined]

from onecrew.log.timecode import Rate, frame_at, frame_of, label, rate_of, seconds_of

DROP_30 = rate_of(29.97)
DROP_60 = rate_of(59.94)

# SMPTE 12M drop-frame: labels ;00 and ;01 (;00 to ;03 at 59.94) are skipped each minute but 0, 10, … 50.
# Own arithmetic from that rule: 17 982 frames in ten minutes, 107 892 an hour, 2 589 408 a day at 29.97.
WORKED = [
    (0, "00:00:00;00", "00:00:00;00"),
    (1799, "00:00:59;29", "00:00:29;59"),
    (1800, "00:01:00;02", "00:00:30;00"),
    (3597, "00:01:59;29", "00:00:59;57"),
    (3598, "00:02:00;02", "00:00:59;58"),
    (17981, "00:09:59;29", "00:04:59;57"),
    (17982, "00:10:00;00", "00:04:59;58"),
    (107891, "00:59:59;29", "00:29:59;59"),
    (107892, "01:00:00;00", "00:30:00;00"),
    (2589407, "23:59:59;29", "11:59:59;59"),
]


@pytest.mark.parametrize(("frame", "at_30", "at_60"), WORKED)
def test_worked_values_of_the_standard(frame: int, at_30: str, at_60: str) -> None:
    assert label(frame, DROP_30) == at_30
    assert label(frame, DROP_60) == at_60
    assert frame_of(at_30, DROP_30) == frame
    assert frame_of(at_60, DROP_60) == frame


@pytest.mark.parametrize(
    ("fps", "name"),
    [(23.976, "23.976"), (24, "24"), (25, "25"), (29.97, "29.97"), (30, "30"), (50, "50"), (59.94, "59.94")],
)
@given(frame=st.integers(0, 2_000_000))
@settings(max_examples=40)
def test_labels_agree_with_the_timecode_library(fps: float, name: str, frame: int) -> None:
    rate = rate_of(fps)
    theirs = Timecode(name, frames=frame + 1)  # it counts frames from 1
    assert label(frame, rate).replace(";", ":") == str(theirs).replace(";", ":")


@given(
    frame=st.integers(0, 5_000_000),
    rate=st.sampled_from([DROP_30, DROP_60, rate_of(23.976), rate_of(25), rate_of(29.97, drop=False)]),
)
def test_a_label_names_its_frame(frame: int, rate: Rate) -> None:
    frame %= rate.a_day
    assert frame_of(label(frame, rate), rate) == frame


@pytest.mark.parametrize("minute", [1, 9, 11, 59])
def test_skipped_labels_do_not_exist(minute: int) -> None:
    for frames in ("00", "01"):
        with pytest.raises(ValueError, match="does not exist"):
            frame_of(f"00:{minute:02d}:00;{frames}", DROP_30)
    assert frame_of(f"00:{minute:02d}:00;02", DROP_30) > 0
    assert frame_of("00:10:00;00", DROP_30) == 17982


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("24:00:00:00", rate_of(25)),
        ("00:60:00:00", rate_of(25)),
        ("00:00:60:00", rate_of(25)),
        ("00:00:00:25", rate_of(25)),
        ("00:00:00;00", rate_of(25)),
        ("1:2:3", rate_of(25)),
        ("soon", rate_of(25)),
        ("", rate_of(25)),
    ],
)
def test_what_is_no_label_is_told(text: str, rate: Rate) -> None:
    with pytest.raises(ValueError, match=r"\w+"):
        frame_of(text, rate)


@pytest.mark.parametrize(
    ("written", "nominal", "drop"),
    [(23.98, 24, False), (23.976, 24, False), (24.0, 24, False), (29.97, 30, True), (30.0, 30, False),
     (47.952, 48, False), (59.94, 60, True), (60.0, 60, False)],
)  # fmt: skip
def test_rates_as_people_write_them(written: float, nominal: int, drop: bool) -> None:
    rate = rate_of(written)
    assert (rate.nominal, rate.drop) == (nominal, drop)
    # 1000/1001 of the nominal rate: SMPTE ST 12-1.
    expected = nominal if written == nominal else nominal * 1000 / 1001
    assert float(rate.fps) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("fps", [0.4, 12.5, 29.5, 61, 120, 1000])
def test_rates_without_timecode_are_told(fps: float) -> None:
    with pytest.raises(ValueError, match="has no timecode"):
        rate_of(fps)


def test_drop_frame_belongs_to_two_rates_alone() -> None:
    for fps in (23.976, 24, 25, 30, 50, 60):
        with pytest.raises(ValueError, match="no drop-frame"):
            rate_of(fps, drop=True)
    assert label(1800, rate_of(29.97, drop=False)) == "00:01:00:00"


def test_an_hour_of_labels_against_the_clock() -> None:
    # An hour of drop-frame labels lasts 3599.9964 s, an hour of the others at 29.97 lasts 3603.6 s.
    assert seconds_of(frame_of("01:00:00;00", DROP_30), DROP_30) == pytest.approx(3599.9964, abs=1e-9)
    plain = rate_of(29.97, drop=False)
    assert seconds_of(frame_of("01:00:00:00", plain), plain) == pytest.approx(3603.6, abs=1e-9)


def test_labels_begin_again_after_a_day() -> None:
    assert DROP_30.a_day == 2589408
    assert label(2589408, DROP_30) == "00:00:00;00"


@given(frame=st.integers(0, 1_000_000), fps=st.sampled_from([23.976, 25, 29.97, 59.94]))
def test_the_frame_that_begins_at_a_time_is_shown_at_that_time(frame: int, fps: float) -> None:
    rate = rate_of(fps)
    assert frame_at(seconds_of(frame, rate), rate) == frame
