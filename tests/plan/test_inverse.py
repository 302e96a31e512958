"""From the reading wanted to levels and places: what comes out, put in, reads as wanted."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.errors import Misuse
from onecrew.plan.exposure import exposure_of
from onecrew.plan.forecast import forecast
from onecrew.plan.inverse import Answer, answer
from onecrew.plan.lamp import Lamp
from onecrew.plan.stage import Stage, stage_of
from onecrew.plan.wants import Wants, read_wants
from onecrew.show.photometry import Photometry, Room
from onecrew.show.show import Camera, Fixture, Place, SetPiece
from tests.plan.moving import move
from tests.show.shows import PROFILES

CAMERA = Camera(iso=800, shutter_s=1 / 48, aperture=2.8, place=Place(x_m=2.0, y_m=0.3, height_m=1.5))
FACE = SetPiece(id="baker", kind="subject", place=Place(x_m=2.0, y_m=2.5, height_m=1.5))
ROOM = Room(width_m=5.0, depth_m=5.0, height_m=2.6, walls="mid", ceiling="white", floor="dark")
DARK = Room(width_m=9.0, depth_m=9.0, height_m=4.0, walls=0.0, ceiling=0.0, floor=0.0)


def lamp(name: str, role: str, output: float = 0.3, *, size: float = 0.3, **place: Any) -> Lamp:
    fixture = Fixture.model_validate(
        {"id": name, "profile": "spot-daylight", "mode": "8-bit", "universe": 1, "address": 1, "role": role,
         "place": {"height_m": 1.8, **place}}
    )  # fmt: skip
    return Lamp(fixture, output, Photometry(lumens=4000.0, beam_deg=110.0, width_m=size, height_m=size), True)


def staged(room: Room = ROOM) -> Stage:
    key = lamp("hood", "key", x_m=0.7, y_m=1.5)
    return stage_of([key, lamp("sky", "fill", 0.05, x_m=3.4, y_m=1.0)], [FACE], CAMERA, room)


def ask(stage: Stage, wants: Wants) -> Answer:
    return answer(stage, forecast(stage, CAMERA), wants, PROFILES)


def as_set(stage: Stage, found: Answer) -> Stage:
    outputs = {each.id: each.output for each in found.settings}
    stage.lamps = tuple(
        replace(lamp, output=outputs.get(lamp.fixture.id, lamp.output)) for lamp in stage.lamps
    )
    return stage


def test_a_key_and_a_ratio_come_out_as_levels_that_give_them() -> None:
    stage = staged()
    found = ask(stage, read_wants("key f/2.8+0.3 ratio 4:1", CAMERA))
    assert [each.id for each in found.settings] == ["hood", "sky"]
    assert found.remarks == ()
    again = forecast(as_set(stage, found), CAMERA)
    assert again.key_stops == pytest.approx(0.3, abs=1e-3)
    assert again.ratio == pytest.approx(4.0, rel=1e-3)
    # The spot dims by the law of IEC 62386-102: 3.2 % of the light at half level.
    assert all(each.level > each.output for each in found.settings)
    assert found.settings[0].stops_left == pytest.approx(-math.log2(found.settings[0].output))


def test_the_ratio_is_held_to_the_key_that_is_reached() -> None:
    stage = staged()
    found = ask(stage, read_wants("key f/22 ratio 4:1", CAMERA))
    assert found.settings[0].output == 1.0 and "hood is" in found.remarks[0] and "open up" in found.remarks[0]
    assert forecast(as_set(stage, found), CAMERA).ratio == pytest.approx(4.0, rel=1e-3)
    dim = ask(stage, Wants(ratio=0.01))
    assert "take less key" in dim.remarks[-1]


def test_a_contrast_comes_out_too() -> None:
    stage = staged()
    found = ask(stage, Wants(contrast=2.0))
    assert found.remarks == ()
    assert forecast(as_set(stage, found), CAMERA).contrast == pytest.approx(2.0, rel=1e-3)


def test_a_contrast_above_what_the_room_leaves_is_said() -> None:
    found = ask(staged(), Wants(contrast=500.0))
    assert found.settings == ()
    assert "with no fill at all the face has" in found.remarks[0]


def test_a_lamp_that_is_too_weak_stands_at_full_and_says_by_how_much() -> None:
    found = ask(staged(), Wants(key_lux=1e5))
    [hood] = found.settings
    assert (hood.output, hood.level) == (1.0, 1.0)
    assert hood.stops_left < -3
    assert f"hood is {-hood.stops_left:.1f} stops short" in found.remarks[0]


def test_without_a_fill_or_a_key_it_is_said() -> None:
    alone = stage_of([lamp("hood", "key", x_m=0.7, y_m=1.5)], [FACE], CAMERA, ROOM)
    assert "no lamp of the role fill" in ask(alone, Wants(ratio=4.0)).remarks[0]
    dark = stage_of([lamp("hood", "key", 0.0, x_m=0.7, y_m=1.5)], [FACE], CAMERA, ROOM)
    assert "no key gives light here" in ask(dark, Wants(key_lux=100.0)).remarks[0]
    assert "one key lamp" in ask(dark, Wants(fall=1.0)).remarks[0]


def test_the_distance_for_a_stop_is_that_of_the_inverse_square() -> None:
    """A small source ahead in a black room: (d + m) / d = √2, so d = m / (√2 − 1), own arithmetic."""
    key = lamp("hood", "key", size=0.01, x_m=2.0, y_m=1.5, height_m=1.5, tilt_deg=0.0, aim_deg=0.0)
    here = FACE.model_copy(update={"place": Place(x_m=2.0, y_m=6.0, height_m=1.5)})
    stage = stage_of([key], [here], CAMERA, DARK)
    found = ask(stage, read_wants("fall 1 across 0.7 m", CAMERA)).place
    assert found is not None
    assert found.distance_m == pytest.approx(0.7 / (math.sqrt(2) - 1), rel=0.005)
    assert (found.x_m, found.y_m) == (pytest.approx(2.0), pytest.approx(6.0 - found.distance_m, abs=1e-6))
    assert found.fall == pytest.approx(1.0, abs=0.01)
    move(stage, "hood", Place(x_m=found.x_m, y_m=found.y_m, height_m=1.5, aim_deg=0.0, tilt_deg=0.0))
    back = next(step for step in forecast(stage, CAMERA).steps if step.way == "one step back")
    assert back.stops == pytest.approx(-1.0, abs=0.01)


def test_a_distance_that_the_room_has_not_is_said_and_nothing_moves() -> None:
    stage = staged()
    before = stage.sources["hood"]
    found = ask(stage, Wants(fall=0.05))
    assert found.place is not None
    assert not found.place.reached
    assert "at the wall the key still falls by" in found.remarks[-1]
    assert stage.sources["hood"] is before


@settings(max_examples=8, deadline=None)
@given(st.floats(0.02, 1.0), st.floats(-2.0, 2.0))
def test_any_key_within_reach_is_reached(output: float, wanted: float) -> None:
    stage = stage_of([lamp("hood", "key", output, x_m=0.7, y_m=1.5)], [FACE], CAMERA, DARK)
    lux = exposure_of(CAMERA).lux * 2**wanted
    again = forecast(as_set(stage, ask(stage, Wants(key_lux=lux))), CAMERA)
    assert again.key_stops == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    ("words", "lux"),
    [
        ("key f/2.8", 117.6),  # ISO 2720, f/2.8 1/48 s ISO 800 C 250
        ("key at f/4", 240.0),
        ("KEY f2.8 + 1", 235.2),
        ("key +1 stop", 235.2),
        ("key −0.5", 83.16),
        ("key 98 lx", 98.0),
        ("key 98lux, ratio 4", 98.0),
    ],
)
def test_how_a_key_is_written(words: str, lux: float) -> None:
    assert read_wants(words, CAMERA).key_lux == pytest.approx(lux, rel=1e-3)


def test_how_the_rest_is_written() -> None:
    assert read_wants("ratio 4:1", CAMERA) == Wants(ratio=4.0)
    assert read_wants("ratio 8 : 2", CAMERA) == Wants(ratio=4.0)
    assert read_wants("contrast 3", CAMERA) == Wants(contrast=3.0)
    fall = read_wants("fall -1 stop across 2'4\"", CAMERA)
    assert fall == Wants(fall=1.0, across_m=fall.across_m) and fall.across_m == pytest.approx(0.7112)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "does not say what is wanted"),
        ("brighter", "does not say what is wanted"),
        ("key", "has no figure"),
        ("key lots", "is no reading"),
        ("key f/2.8 key f/4", "wanted twice"),
        ("ratio none", "is not a number"),
        ("ratio 0:1", "out of range"),
        ("ratio 4:0", "out of range"),
        ("ratio 4:1 contrast 3", "both set by the fill"),
        ("across 2", "how long the move is"),
        ("fall 40", "out of range"),
    ],
)
def test_what_makes_no_sense_is_refused(words: str, said: str) -> None:
    with pytest.raises(Misuse, match=said):
        read_wants(words, CAMERA)
