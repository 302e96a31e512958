"""Readings in a file, as a spreadsheet or a hand writes them; every fault with its line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.cli.meter_file import Line, as_lines, read_emitter_lines, read_lines
from onecrew.errors import DocumentFaults, Misuse
from onecrew.fixtures.meter import Metered
from onecrew.show.light import White
from onecrew.show.show import Reading

EXPECTED = [
    Line(White(cct_k=2700, duv=0), Metered(2640.0, 0.002, 800.0)),
    Line(White(cct_k=4300, duv=0.01), Metered(4350.0, 0.0081, 912.5)),
]


@pytest.mark.parametrize(
    "text",
    [
        "2700,0,2640,0.002,800\n4300,0.01,4350,0.0081,912.5\n",
        "asked_cct_k,asked_duv,measured_cct_k,measured_duv,light\n2700,0,2640,0.002,800\n4300,0.01,4350,0.0081,912.5",
        "light,duv,cct,asked,asked_tint\n800,0.002,2640,2700,0\n912.5,0.0081,4350,4300,0.01\n",
        "# window, two metres\n2700 0 2640K 0.002 800\n\n4300 0.01 4350 0.0081 912.5 # again\n",
        "\ufeffAsked CCT;Asked Duv;CCT;Duv;Lux\r\n2700;0;2640;0,002;800\r\n4300;0,01;4350;0,0081;912,5\r\n",
        '"2700","0","2640","0.002","800"\n"4300","0.01","4350","0.0081","912.5"\n',
    ],
)
def test_the_same_readings_in_many_files(text: str) -> None:
    assert read_lines(text, "window.csv") == EXPECTED


def test_tint_and_light_may_be_left_out() -> None:
    [line] = read_lines("asked,cct,duv\n2700,2640,0.002\n", "f")
    assert line == Line(White(cct_k=2700, duv=0), Metered(2640.0, 0.002, None))


@pytest.mark.parametrize("text", ["2700,0,2640,.002,800,Check", "asked cct duv\n2700 2640 .002 check"])
def test_check_at_the_end_of_a_line_marks_a_check_reading(text: str) -> None:
    [line] = read_lines(text, "f")
    assert line.check and line.read.cct_k == 2640.0


def test_an_emitter_is_no_check_reading() -> None:
    with pytest.raises(DocumentFaults) as found:
        read_emitter_lines("red,100%,.69,.3,80\nred,50%,.69,.3,40,check\n", "f", ["red"])
    assert "line 2: an emitter cannot be a check reading" in str(found.value.faults[0])


def test_every_fault_is_told_with_its_line() -> None:
    with pytest.raises(DocumentFaults) as found:
        read_lines(
            "2700,0,2640,0.002,800\n\n3200,0,900,0,5\n4300,0.2,4300,0,5\n5600,0,5600,0\n1,2,3,4,-5\n", "w.csv"
        )
    said = [str(fault) for fault in found.value.faults]
    assert [fault.where for fault in found.value.faults] == ["line 3", "line 4", "line 5", "line 6"]
    assert "900 K is out of range" in said[0]
    assert "4 columns; there are 5" in said[2]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "has no reading"),
        ("# nothing\n", "has no reading"),
        ("asked,colour\n1,2\n", "has a column 'colour'"),
        ("asked,duv\n2700,0.1\n", "needs each column once: measured_cct_k"),
        ("asked,cct,duv,duv\n", "needs each column once"),
        ("2700,0,2640,0.002,800\n" * 1001, "more than 1000 readings"),
    ],
)
def test_a_file_that_is_none(text: str, said: str) -> None:
    with pytest.raises(Misuse, match=said):
        read_lines(text, "w.csv")


values = st.builds(
    Reading,
    asked_cct_k=st.integers(1000, 25000),
    asked_duv=st.integers(-500, 500).map(lambda n: n / 1e4),
    measured_cct_k=st.integers(1000, 25000),
    measured_duv=st.integers(-500, 500).map(lambda n: n / 1e4),
    light=st.integers(1, 99999).map(float),
)


@given(st.lists(values, min_size=1, max_size=9))
def test_what_is_written_down_is_read_back(taken: list[Reading]) -> None:
    for line, one in zip(read_lines(as_lines(taken), "f"), taken, strict=True):
        assert line.asked == White(cct_k=one.asked_cct_k, duv=one.asked_duv)
        assert line.read == Metered(one.measured_cct_k, one.measured_duv, one.light)


@given(st.text(max_size=200))
def test_any_text_is_readings_or_a_sentence(text: str) -> None:
    try:
        assert read_lines(text, "f")
    except (Misuse, DocumentFaults) as fault:
        assert str(fault)
