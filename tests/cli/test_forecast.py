"""``onecrew forecast``: readings a person and a script can use, before a stand is moved."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from onecrew.manual import page
from tests.cli.conftest import Ended

Run = Callable[..., Ended]
BAKERY = Path(__file__).parents[2] / "examples" / "night-baker.json"

PROFILE = """
name = "Plain panel"
[emitters.white]
xy = [0.3301, 0.3449]
flux = 1.0
[photometry]
lux_at_1m = 1000.0
beam_deg = 110.0
width_m = 0.3
height_m = 0.3
[[modes]]
name = "8-bit"
channels = [{ dimmer = true }]
"""


def show(tmp_path: Path, **more: Any) -> Path:
    """A black room with one panel a metre before the face, and a profile beside the show."""
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "plain.toml").write_text(PROFILE)
    place = {"x_m": 3.0, "y_m": 3.0, "height_m": 1.5, "aim_deg": 0.0, "tilt_deg": 0.0}
    scene = {
        "name": "Opening",
        "arrangement": {"hood": {"role": "key", "place": place}},
        "set_pieces": [
            {"id": "baker", "kind": "subject", "place": {"x_m": 3.0, "y_m": 4.0, "height_m": 1.5}}
        ],
        "camera": {"iso": 800, "shutter_s": 0.02, "fps": 25.0, "aperture": 2.8, "white_balance_k": 5600.0,
                   "place": {"x_m": 3.0, "y_m": 0.5, "height_m": 1.5}},
        "room": {"width_m": 6.0, "depth_m": 6.0, "height_m": 3.0, "walls": 0.0, "ceiling": 0.0, "floor": 0.0},
        "cues": [{"number": "1", "name": "Half", "fade": {}, "look": {"hood": {"level": 0.5}}}],
        **more,
    }  # fmt: skip
    lamp = {"id": "hood", "profile": "plain", "mode": "8-bit", "universe": 1, "address": 1}
    content = {
        "format": "onecrew-show", "version": 2, "name": "Bakery",
        "rig": {"fixtures": [lamp]}, "scenes": [scene],
    }  # fmt: skip
    path = tmp_path / "bakery.json"
    path.write_text(json.dumps(content))
    return path


def test_with_no_engine_and_no_cue_every_lamp_is_read_at_full(tmp_path: Path, onecrew: Run) -> None:
    found = onecrew("forecast", str(show(tmp_path)), "--json").json
    assert (found["of"], found["absolute"], found["key"]) == ("every lamp at full", True, ["hood"])
    assert found["key_lux"] == pytest.approx(1000.0, rel=1e-4)
    # ISO 2720: f/2.8, 1/50 s, ISO 800, C 250 → 122.5 lx.
    assert found["nominal_lux"] == pytest.approx(122.5)
    [lamp] = found["lamps"]
    assert lamp["lamp_lux"] == pytest.approx(1000.0, rel=1e-4)
    assert (lamp["share"], lamp["to_key"], lamp["distance_m"]) == pytest.approx((1.0, 0.0, 1.0))


def test_a_cue_is_read_at_its_levels(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    found = onecrew("forecast", str(path), "--cue", "1", "--json").json
    assert found["key_lux"] == pytest.approx(500.0, rel=0.01)
    assert found["lamps"][0]["full_lux"] == pytest.approx(1000.0, rel=1e-4)
    told = onecrew("forecast", str(path), "--cue", "half")
    assert (told.status, told.err) == (0, "")
    assert "key (hood)" in told.out
    assert "+2.0 st" in told.out  # log₂(500 / 122.5)


def test_another_place_and_the_way_there(tmp_path: Path, onecrew: Run) -> None:
    found = onecrew("forecast", str(show(tmp_path)), "--at", "3,5,1.5", "--to", "3,5.5", "--json").json
    assert found["at"] == [3.0, 5.0, 1.5]
    assert found["key_lux"] == pytest.approx(1000 / 4, rel=0.04)  # twice as far; 0.3 m wide, so not quite
    assert found["steps"][-1]["way"] == "to 3.00 m, 5.50 m"
    assert found["steps"][-1]["metres"] == pytest.approx(0.5)


def test_missing_photometry_is_said_and_no_lux_are_made_up(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    start, end = PROFILE.index("[photometry]"), PROFILE.index("[[modes]]")
    (tmp_path / "profiles" / "plain.toml").write_text(PROFILE[:start] + PROFILE[end:])
    found = onecrew("forecast", str(path), "--json").json
    assert (found["absolute"], found["missing"]) == (False, ["hood"])
    assert found["camera_lux"] is found["key_lux"] is found["lamps"][0]["lamp_lux"] is None
    assert found["lamps"][0]["to_key"] == 0.0
    told = onecrew("forecast", str(path)).out
    assert "relative only: hood has no photometry" in told


def test_the_demo_show_is_read_and_names_what_it_assumes(onecrew: Run) -> None:
    told = onecrew("forecast", str(BAKERY), "--cue", "3")
    assert (told.status, told.err) == (0, "")
    assert "count on half a stop either way" in told.out


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--at", "3"), 2, "is not a place; write metres as"),
        (("--at", "3,here"), 2, "is not a number"),
        (("--at", "300,1"), 2, "out of range"),
        (("--cue", "99"), 1, "99"),
        (("--cue", "nobody"), 2, "nobody"),
    ],
)
def test_what_makes_no_sense_is_refused(
    words: tuple[str, ...], status: int, said: str, tmp_path: Path, onecrew: Run
) -> None:
    ended = onecrew("forecast", str(show(tmp_path)), *words)
    assert (ended.status, ended.out) == (status, "")
    assert said in ended.err


@pytest.mark.parametrize(
    ("room", "said"),
    [
        ({"walls": 1.2}, "room.walls: no surface reflects 1.2 of the light it gets"),
        ({"ceiling": "pale"}, "room.ceiling: this is no reflectance; give dark, mid or white"),
        ({"width_m": -1.0}, "room.width_m"),
        ({"walls": True}, "room.walls"),
    ],
)
def test_a_room_that_cannot_be_is_a_fault_of_the_show(
    room: dict[str, Any], said: str, tmp_path: Path, onecrew: Run
) -> None:
    ended = onecrew("forecast", str(show(tmp_path, room=room)))
    assert ended.status == 1
    assert said in ended.err


def test_what_is_wanted_comes_out_as_a_level_and_a_place(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    found = onecrew("forecast", str(path), "--cue", "1", "--want", "key f/2.8+1 fall 1", "--json").json[
        "want"
    ]
    [hood] = found["settings"]
    assert hood["output"] == pytest.approx(0.245, rel=0.01)  # 245 of 1000 lx
    assert hood["stops_left"] == pytest.approx(2.03, abs=0.02)
    assert found["place"]["distance_m"] == pytest.approx(1.69, rel=0.03)  # 0.7 / (√2 − 1)
    told = onecrew("forecast", str(path), "--cue", "1", "--want", "key f/2.8+1").out
    assert "hood at 24.5 %, 2.0 stops below its full light" in told
    assert onecrew("forecast", str(path), "--want", "brighter").status == 2


def test_one_meter_reading_corrects_the_lamp(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    told = onecrew("calibrate", str(path), "hood", "--lux", "1500")  # at the subject, 1 m away
    assert (told.status, told.err) == (0, "")
    assert "hood: 1500 lx where its profile promises 1000 lx (+0.6 st)" in told.out
    assert onecrew("forecast", str(path), "--json").json["key_lux"] == pytest.approx(1500.0, rel=1e-3)
    # A small source 2 m away on its axis at half level: four times as much at 1 m, twice that at full.
    found = onecrew(
        "calibrate", str(path), "hood", "--lux", "100", "--distance", "2", "--level", "50%", "--json"
    ).json
    assert found["meter"]["lux_at_1m"] == pytest.approx(800.0, rel=0.04)
    assert onecrew("forecast", str(path), "--json").json["key_lux"] == pytest.approx(800.0, rel=0.04)
    outside = onecrew("calibrate", str(path), "hood", "--lux", "1500", "--at", "9,9,1").out
    assert "check: the place is outside the room: it is read at the wall" in outside
    assert onecrew("calibrate", str(path), "hood", "--clear").status == 0
    assert onecrew("forecast", str(path), "--json").json["key_lux"] == pytest.approx(1000.0, rel=1e-3)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--lux", "lots"), 2, "is not a number"),
        (("--lux", "100", "--at", "1,1", "--distance", "2"), 2, "use one of --at and --distance"),
        (("--distance", "2"), 2, "--distance belongs to --lux"),
        (("--lux", "100", "--level", "off"), 2, "dark"),
        (("--lux", "0.5"), 1, "measure again"),
    ],
)
def test_a_reading_that_makes_no_sense_changes_nothing(
    words: tuple[str, ...], status: int, said: str, tmp_path: Path, onecrew: Run
) -> None:
    path = show(tmp_path)
    before = path.read_bytes()
    ended = onecrew("calibrate", str(path), "hood", *words)
    assert (ended.status, ended.out) == (status, "")
    assert said in ended.err
    assert path.read_bytes() == before


def test_the_map_is_in_stops_over_the_floor(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    found = onecrew("forecast", str(path), "--map", "--json").json["map"]
    assert (len(found["x"]), len(found["y"])) == (12, 12)
    assert len(found["lux"]) == 12
    told = onecrew("forecast", str(path), "--map").out.split("in stops against the camera notes:\n")[1]
    assert told.split()[:3] == ["m", "0.2", "0.8"]
    assert "dark" in told  # a black room, and what lies behind the lamp


def test_a_second_subject_is_read_too_and_can_be_asked_for_alone(tmp_path: Path, onecrew: Run) -> None:
    """Twice as far from the panel: a quarter of the light, but for the panel's size."""
    people = [
        {"id": name, "kind": "subject", "place": {"x_m": 3.0, "y_m": y_m, "height_m": 1.5, "aim_deg": 180.0}}
        for name, y_m in (("baker", 4.0), ("double", 5.0))
    ]
    path = show(tmp_path, set_pieces=people, room={"width_m": 6.0, "depth_m": 6.0})
    found = onecrew("forecast", str(path), "--json").json
    [other] = found["others"]
    assert (found["subject"], other["subject"]) == ("baker", "double")
    assert other["lamps"][0]["lamp_lux"] - other["lamps"][0]["lamp_bounced_lux"] == pytest.approx(
        250, rel=0.04
    )
    assert found["assumed"] and not set(found["assumed"]) & set(other["assumed"])
    alone = onecrew("forecast", str(path), "--subject", "double", "--json").json
    assert alone["others"] == [] and alone["key_lux"] == other["key_lux"]
    told = onecrew("forecast", str(path)).out
    assert "at baker" in told and "at double" in told
    assert told.count("assumed: ") == len(set(found["assumed"]) | set(other["assumed"]))  # each but once
    wrong = onecrew("forecast", str(path), "--subject", "nobody")
    assert (wrong.status, wrong.out) == (2, "") and "there is baker, double" in wrong.err


def test_lengths_are_said_in_feet_where_the_room_says_so(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path, room={"width_m": 6, "depth_m": 6, "height_m": 3, "units": "feet"})
    told = onecrew("forecast", str(path), "--at", "9'10\",13'1\",4'11\"").out
    assert "at the place (9'10\", 13'1\", 4'11\")" in told
    assert " m)" not in told
    found = onecrew("forecast", str(path), "--at", "9'10\",13'1\"", "--json").json
    assert found["at"][:2] == pytest.approx([2.997, 3.988], abs=1e-3)  # documents and JSON hold metres


def test_a_lamp_without_photometry_is_known_from_one_reading(tmp_path: Path, onecrew: Run) -> None:
    path = show(tmp_path)
    start, end = PROFILE.index("[photometry]"), PROFILE.index("[[modes]]")
    (tmp_path / "profiles" / "plain.toml").write_text(PROFILE[:start] + PROFILE[end:])
    assert onecrew("calibrate", str(path), "hood", "--lux", "300").status == 0
    found = onecrew("forecast", str(path), "--json").json
    assert (found["absolute"], found["key_lux"]) == (True, pytest.approx(300.0, rel=1e-3))


def test_the_room_of_the_manual_is_read_without_an_assumption(tmp_path: Path, onecrew: Run) -> None:
    """The topic says that this is all it needs: then nothing may be assumed, doubted or missing."""
    path = tmp_path / "room.json"
    path.write_text(page("forecast").split("```json\n")[1].split("```")[0], encoding="utf-8")
    assert onecrew("check", str(path)).status == 0
    found = onecrew("forecast", str(path), "--cue", "1", "--json").json
    for each in (found, *found["others"]):
        assert (each["assumed"], each["doubts"], each["missing"]) == ([], [], [])
        assert each["absolute"] and each["ratio"] > 1.0
    assert [each["subject"] for each in found["others"]] == ["double"]
