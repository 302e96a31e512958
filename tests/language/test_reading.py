"""What is written is read back exactly, and what cannot be meant is refused in a sentence."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Misuse
from onecrew.language import reading, saying, writing


def thousandths(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(1000 * low, 1000 * high).map(lambda n: n / 1000)


@pytest.mark.parametrize(
    ("write", "read", "values"),
    [
        (writing.number, lambda text: reading.number(text, "it"), thousandths(-9999, 9999)),
        (writing.level, reading.level, thousandths(0, 1)),
        (writing.level, lambda text: reading.level(text, in_per_cent=True), thousandths(0, 1)),
        (writing.seconds, reading.seconds, thousandths(0, 3600)),
        (writing.stops, reading.stops, thousandths(-15, 15)),
        (writing.tint, reading.tint, st.integers(-500, 500).map(lambda n: n / 10000)),
        (lambda value: f"{writing.number(value)}K", reading.kelvin, thousandths(1000, 25000)),
        (writing.shutter, reading.shutter, thousandths(0, 60).filter(bool)),
        (writing.shutter, reading.shutter, st.integers(1, 99999).map(lambda n: 1 / (n / 10))),
        (writing.xy, reading.xy, st.tuples(thousandths(0, 1), thousandths(0, 1)).filter(
            lambda xy: xy[0] > 0 and xy[1] > 0 and sum(xy) < 1)),
        (writing.on, lambda text: reading.yes_no(text, "it"), st.booleans()),
    ],
)  # fmt: skip
def test_what_is_written_is_read_back(
    write: Callable[[object], str], read: Callable[[str], object], values: st.SearchStrategy[object]
) -> None:
    @given(values)
    def check(value: object) -> None:
        assert read(write(value)) == pytest.approx(value, rel=1e-9, abs=1e-9)

    check()


@given(st.integers(0, 1000).map(lambda tenths: tenths / 1000))
def test_a_level_in_a_sentence_is_read_too(level: float) -> None:
    assert reading.level(saying.per_cent(level)) == pytest.approx(level)


@given(st.integers(0, 3600))
def test_a_time_in_a_sentence_is_read_too(seconds: int) -> None:
    assert reading.seconds(saying.seconds(float(seconds))) == seconds


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (reading.level, "2,5 %", 0.025),
        (reading.stops, "−1.0 st", -1.0),
        (reading.stops, "1 stop", 1.0),
        (reading.kelvin, "3.2k", 3200.0),
        (reading.kelvin, "56", 5600.0),
        (reading.kelvin, "2800 K", 2800.0),
        (reading.tint, "−2,5", -0.0025),
        (reading.seconds, "2 min 5 s", 125.0),
        (reading.seconds, "0,5 s", 0.5),
        (reading.aperture, "f/2.8", 2.8),
    ],
)
def test_one_grammar(read: Callable[[str], float], text: str, value: float) -> None:
    assert read(text) == pytest.approx(value)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (reading.level, "1"),
        (reading.level, "15"),
        (reading.level, "101%"),
        (reading.tint, "0.3"),
        (reading.tint, "51"),
        (reading.kelvin, "200"),
        (reading.kelvin, "50k"),
        (reading.shutter, "1/0"),
        (reading.shutter, "0"),
        (reading.seconds, "-1"),
        (reading.stops, "16"),
        (reading.xy, "0.7,0.7"),
        (reading.hue_saturation, "400 10"),
    ],
)
def test_what_cannot_be_meant_is_refused(read: Callable[[str], object], text: str) -> None:
    with pytest.raises(Misuse, match=r"\w+ \w+"):
        read(text)


def test_a_range_is_said_without_an_exponent() -> None:
    with pytest.raises(Misuse, match=r"iso 9999999999 is out of range: 1 to 1000000$"):
        reading.whole("9999999999", "iso", 1, 1_000_000)
