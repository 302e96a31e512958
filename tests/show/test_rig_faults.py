"""What a rig cannot be: unknown profiles and modes, names twice, no spectra to mix by, a reading twice."""

from __future__ import annotations

import json
from pathlib import Path

from onecrew.shipped import shipped
from onecrew.show.check import check_show
from onecrew.show.load import examine
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from tests.fakes.documents import document
from tests.show.shows import PROFILES, fixture_data


def lines(*fixtures: dict[str, object], set_pieces: tuple[object, ...] = (), **more: object) -> list[str]:
    show = Show.model_validate({"name": "Rig", "rig": {"fixtures": fixtures, "set_pieces": set_pieces}})
    return [str(fault) for fault in check_show(show, more.get("profiles", PROFILES))]  # type: ignore[arg-type]


def test_a_mistyped_profile_is_guessed() -> None:
    assert lines(fixture_data(profile="panel-cct-tnt")) == [
        'rig.fixtures[0].profile: there is no profile "panel-cct-tnt"; perhaps "panel-cct-tint" was meant'
    ]


def test_a_profile_like_no_other_lists_what_there_is() -> None:
    (line,) = lines(fixture_data(profile="zzz"))
    assert all(name in line for name in PROFILES)


def test_a_mistyped_mode_is_guessed_and_the_modes_listed() -> None:
    assert lines(fixture_data(mode="16bit")) == [
        'rig.fixtures[0].mode: profile panel-cct-tint has no mode "16bit", perhaps "16-bit" was meant; '
        "it has 8-bit and 16-bit"
    ]


def test_a_profile_whose_file_is_broken_is_said_to_be_broken(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("name = ")
    library = load_profiles([shipped("profiles"), tmp_path])
    assert lines(fixture_data(profile="mine"), profiles=library) == [
        'rig.fixtures[0].profile: the profile "mine" cannot be used, its file has faults; '
        "fix the file, or use another profile"
    ]


def test_two_fixtures_of_one_name() -> None:
    assert lines(fixture_data(), fixture_data(address=20)) == [
        'rig.fixtures[1].id: the fixture "window" is there already as rig.fixtures[0]; give each its own'
    ]


def test_two_set_pieces_of_one_name() -> None:
    pieces = ({"id": "flag", "kind": "flag"}, {"id": "flag", "kind": "card"})
    assert lines(set_pieces=pieces) == [
        'scenes[0].set_pieces[1].id: the set piece "flag" is there already as scenes[0].set_pieces[0]; '
        "give each its own"
    ]


def test_best_rendition_needs_spectra_where_emitters_are_mixed(tmp_path: Path) -> None:
    (tmp_path / "bare.toml").write_text(
        'name = "Bare"\n[emitters.red]\nxy = [0.69, 0.31]\n[emitters.green]\nxy = [0.2, 0.7]\n'
        '[[modes]]\nname = "8-bit"\nchannels = [{emitter = "red"}, {emitter = "green"}]\n'
    )
    library = load_profiles([shipped("profiles"), tmp_path])
    bare = fixture_data(profile="bare", mode="8-bit", mixing="best-rendition")
    (line,) = lines(bare, profiles=library)
    assert line.startswith("rig.fixtures[0].mixing:")
    assert "bare has none for red and green" in line
    assert lines(fixture_data(profile="spot-six", mixing="best-rendition")) == []


def test_a_calibration_asks_each_white_once() -> None:
    reading = {"asked_cct_k": 3200, "measured_cct_k": 3150, "measured_duv": 0.001, "light": 100}
    assert lines(fixture_data(calibration=[reading, {**reading, "asked_duv": 0.002}, reading])) == [
        "window, number 3 of its white readings: it asks the same white as number 1; keep one of the two"
    ]


def test_no_fault_of_a_reading_shows_a_path_in_the_file() -> None:
    white = {"asked_cct_k": 3200, "measured_cct_k": 3100, "measured_duv": 0.0, "light": 1}
    wrong = [white | {"measured_duv": 0.2}, white | {"asked_cct_k": 200}, white | {"light": "much"}, {}]
    emitters = [
        {"emitter": "red", "xy": [0.8, 0.4], "light": 0},
        {"emitter": "Red!", "xy": [0.6], "light": 1},
    ]
    lamp = fixture_data(calibration=wrong, emitter_readings=emitters)
    text = json.dumps(document({"name": "Rig", "rig": {"fixtures": [lamp]}}))
    show, faults = examine(text, "rig.json", PROFILES)
    said = [str(fault) for fault in faults]
    assert show is None
    assert said[0] == (
        "window, number 1 of its white readings, the tint read: 0.2 is above 0.05; "
        "give a number from -0.05 to 0.05"
    )
    assert len(said) >= 8
    for line in said:
        assert line.startswith("window, number "), line
        assert not any(sign in line.split(":")[0] for sign in "[]._"), line
