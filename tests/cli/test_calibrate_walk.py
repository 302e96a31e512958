"""From white to white and back, by what is typed."""

from __future__ import annotations

import pytest

from onecrew.cli.calibrate_walk import Walk
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import Question
from onecrew.show.light import White


def walk() -> Walk:
    return Walk([Question(White(cct_k=k), White(cct_k=k), 1.0, 0.5) for k in (2700, 4300, 5600)])


def test_three_readings_in_a_row() -> None:
    one = walk()
    for text in ("2650 .001 800", "4350 -.001 900", "5700 -.002 950"):
        assert not one.over
        assert one.hear(text) == ""
    assert one.over
    assert [(r.asked_cct_k, r.measured_cct_k, r.light) for r in one.readings()] == [
        (2700, 2650, 800),
        (4300, 4350, 900),
        (5600, 5700, 950),
    ]


def test_skip_back_done_and_help() -> None:
    one = walk()
    assert one.hear("back") == "this is the first one"
    one.hear("skip")
    assert "Ctrl-C" in one.hear("help")
    assert one.at == 1
    one.hear("4350 -.001 900")
    one.hear("back")
    assert one.at == 1
    one.hear("")  # keeps what is there
    assert one.at == 2
    one.hear("back")
    one.hear("4360 -.001 900")
    one.hear("done")
    assert one.over
    assert [r.measured_cct_k for r in one.readings()] == [4360]


def test_skipping_drops_a_reading_that_was_there() -> None:
    one = walk()
    one.hear("2650 .001 800")
    one.hear("back")
    one.hear("skip")
    one.hear("done")
    assert one.readings() == ()


def test_what_is_misread_leaves_the_walk_where_it_is() -> None:
    one = walk()
    for text in ("", "warm", "2650"):
        with pytest.raises(Misuse):
            one.hear(text)
    assert (one.at, one.answers) == (0, {})


def test_a_reading_far_off_is_taken_only_when_it_is_typed_again() -> None:
    one = walk()
    assert "far from what was asked" in one.hear("5600 .001 800")
    assert one.at == 0
    assert "far from what was asked" in one.hear("5500 .001 800")
    assert one.hear("5500 .001 800") == ""
    assert one.at == 1
    one = walk()
    one.hear("5600 .001 800")
    assert one.hear("2650 .001 800") == ""
    assert one.answers[0].cct_k == 2650


def test_light_is_told_for_all_or_for_none() -> None:
    one = walk()
    one.hear("2650 .001 800")
    with pytest.raises(Misuse, match="have a light value; give one for all"):
        one.hear("4350 -.001")
    one = walk()
    one.hear("2650 .001")
    with pytest.raises(Misuse, match="have no light value"):
        one.hear("4350 -.001 900")
    one.hear("back")
    assert one.hear("2650 .001 800") == ""  # the only reading may change its mind
