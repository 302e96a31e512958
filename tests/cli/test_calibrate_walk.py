"""From white to white and back, by what is typed."""

from __future__ import annotations

import pytest

from onecrew.cli.calibrate_walk import EmitterStep, Walk, WhiteStep, emitter_readings, white_readings
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import Question
from onecrew.fixtures.emitter_plan import EmitterQuestion
from onecrew.show.light import White


def walk(repeats: int = 1) -> Walk:
    asked = [Question(White(cct_k=k), White(cct_k=k), 1.0, 0.5) for k in (2700, 4300, 5600)]
    return Walk([WhiteStep(one) for one in asked], repeats)


def test_three_readings_in_a_row() -> None:
    one = walk()
    for text in ("2650 .001 800", "4350 -.001 900", "5700 -.002 950"):
        assert not one.over
        assert one.hear(text) == ""
    assert one.over
    assert [(r.asked_cct_k, r.measured_cct_k, r.light) for r in white_readings(one)] == [
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
    assert [r.measured_cct_k for r in white_readings(one)] == [4360]


def test_skipping_drops_a_reading_that_was_there() -> None:
    one = walk()
    one.hear("2650 .001 800")
    one.hear("back")
    one.hear("skip")
    one.hear("done")
    assert white_readings(one) == ()


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
    assert [r.measured_cct_k for r in white_readings(one)] == [2650]


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


# ── Several readings of one light ───────────────────────────────────────────────────────────────────


def test_each_light_is_read_as_often_as_was_asked_and_the_mean_counts() -> None:
    one = walk(repeats=3)
    for text in ("2650 .001 800", "2652 .0012 804", "2648 .0008 796"):
        assert one.at == 0
        assert one.hear(text) == ""
    assert one.at == 1
    [read] = white_readings(one)
    assert read.measured_cct_k == pytest.approx(2650, abs=0.1)
    assert read.measured_duv == pytest.approx(0.001, abs=1e-5)
    assert read.light == pytest.approx(800, abs=0.1)
    assert one.remarks() == []


def test_the_one_that_does_not_belong_is_named_and_left_out() -> None:
    one = walk(repeats=3)
    one.hear("2650 .001 800")
    one.hear("2790 .001 800")
    said = one.hear("2652 .001 800")
    assert said == "2790 K +0.0010 does not fit the other readings of 2700 K and is left out of their mean"
    assert one.remarks() == [said]
    assert white_readings(one)[0].measured_cct_k == pytest.approx(2651, abs=0.1)


def test_again_adds_a_reading_and_two_that_disagree_are_named() -> None:
    one = walk()
    assert one.hear("again") == "the one before has no reading yet"
    one.hear("2650 .001 800")
    one.hear("again")
    assert "(2 of 2)" in one.prompt
    assert "disagree" in one.hear("2750 .001 800")
    one.hear("again")
    assert "2750 K" in one.hear("2651 .001 800")
    assert white_readings(one)[0].measured_cct_k == pytest.approx(2650.5, abs=0.1)
    one.hear("back")
    one.hear("2600 .001 800")  # typed anew, it takes their place
    assert white_readings(one)[0].measured_cct_k == 2600


def test_a_reading_that_was_disturbed_is_taken_back_alone() -> None:
    one = walk(repeats=2)
    one.hear("2650 .001 800")
    one.hear("2900 .001 800")
    one.drop(0)
    assert (one.at, "(2 of 2)" in one.prompt) == (0, True)
    one.hear("2651 .001 800")
    assert one.remarks() == []
    one.drop(0)
    one.drop(0)
    assert one.answers == {}


# ── Emitters ────────────────────────────────────────────────────────────────────────────────────────


def emitters() -> Walk:
    asked = [EmitterQuestion("red", level, (255,), (0.693, 0.3068)) for level in (1.0, 0.2)]
    return Walk([EmitterStep(one) for one in asked])


def test_an_emitter_is_told_as_x_y_and_light() -> None:
    one = emitters()
    assert one.prompt == "1/2  red at 100 %  > "
    assert "812lx" in one.hear("help")
    one.hear(".69 .308 120lx")
    one.hear("light 24 x=.691 y .307")
    assert [(r.emitter, r.level, r.xy, r.light) for r in emitter_readings(one)] == [
        ("red", 1.0, (0.69, 0.308), 120),
        ("red", 0.2, (0.691, 0.307), 24),
    ]


def test_an_emitter_of_another_colour_is_taken_only_when_it_is_typed_again() -> None:
    one = emitters()
    assert "far from what the profile says" in one.hear(".58 .41 120")
    assert one.hear(".58 .41 120") == ""
    assert one.at == 1


@pytest.mark.parametrize(
    "text", ["3200K .001 800", ".69 .308", ".69 .308 120 130", "red", ".69 .408 120", ".69 .3 0"]
)
def test_what_is_no_emitter_is_refused(text: str) -> None:
    one = emitters()
    with pytest.raises(Misuse):
        one.hear(text)
    assert (one.at, one.answers) == (0, {})


def test_a_deep_red_rounded_to_the_edge_of_the_diagram_is_taken() -> None:
    one = emitters()
    one.hear(".69 .31 120")
    assert sum(emitter_readings(one)[0].xy) == pytest.approx(1.0, abs=2e-4)
