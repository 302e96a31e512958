"""Loading reports every fault of a show at once, each with its path, in words, with the fix."""

from __future__ import annotations

import json
from typing import Any

import pytest

from onecrew.errors import DocumentFaults, Fault
from onecrew.show.faults import MAX_FAULTS
from onecrew.show.json_reading import MAX_VALUES
from onecrew.show.load import parse_show
from tests.show.shows import PROFILES, file_data, fixture_data


def faults_of(data: dict[str, Any]) -> list[Fault]:
    with pytest.raises(DocumentFaults) as caught:
        parse_show(json.dumps(data), "show.json", PROFILES)
    return list(caught.value.faults)


def lines(data: dict[str, Any]) -> list[str]:
    return [str(fault) for fault in faults_of(data)]


def cue(**changes: Any) -> dict[str, Any]:
    return file_data(cues=[{"number": "1", **changes}])


def test_the_show_that_the_others_are_made_from_is_faultless() -> None:
    assert parse_show(json.dumps(file_data()), "show.json", PROFILES).name == "Kitchen"


def test_faults_of_every_kind_are_told_together() -> None:
    data = file_data(
        version=3,
        rig={
            "fixtures": [
                fixture_data(profile="panel-cct-tnt"),
                fixture_data(id="tube", profile="tube-rgbww-8", mode="8-segments", address=20),
                fixture_data(id="tube", profile="tube-rgbww-8", mode="8-segment", address=500),
                fixture_data(id="spot", profile="spot-six", mode="8-bit", address=505),
                fixture_data(id="high", address=513),
            ]
        },
        output={"sacn": {"universes": {"1": {"to": ["lamp.local"]}, "70000": {}}}},
        cues=[
            {"number": "1", "shortcut": "h", "look": {"window": {"level": 1.5}, "windw": {"level": 1}}},
            {"number": "2", "shortcut": "2"},
            {"number": "2", "shortcut": "2"},
        ],
    )
    where = [fault.where for fault in faults_of(data)]
    assert where == [
        "version",
        "rig.fixtures[0].profile",
        "rig.fixtures[1].mode",
        "rig.fixtures[2].address",
        "rig.fixtures[2].id",
        "rig.fixtures[3].address",
        "rig.fixtures[4].address",
        "output.sacn.universes.1.to[0]",
        "output.sacn.universes.70000",
        "scenes[0].cues[0].look.window.level",
        "scenes[0].cues[0].look.windw",
        "scenes[0].cues[2].number",
        "scenes[0].cues[2].shortcut",
    ]


@pytest.mark.parametrize("level", [-0.01, 1.01, 15, 1e300])
def test_a_level_outside_0_to_1(level: float) -> None:
    found = faults_of(cue(look={"window": {"level": level}}))
    assert [fault.where for fault in found] == ["scenes[0].cues[0].look.window.level"]
    assert found[0].fix == "give a number from 0 to 1"
    assert f"{level:g}"[:4] in found[0].what


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (cue(look={"window": {"level": "half"}}),
         'scenes[0].cues[0].look.window.level: "half" is a text; give a number from 0 to 1'),
        (cue(look={"window": {"level": True}}),
         "scenes[0].cues[0].look.window.level: true stands here; give a number from 0 to 1"),
        (cue(look={"window": {"level": None}}),
         "scenes[0].cues[0].look.window.level: nothing is given; give a number from 0 to 1"),
        (cue(look={"window": {}}),
         'scenes[0].cues[0].look.window.level: "level" is missing; add it: a number from 0 to 1'),
        (cue(look={"window": {"level": 1, "levle": 1}}),
         'scenes[0].cues[0].look.window.levle: "levle" is not a field here; perhaps "level" was meant'),
        (cue(look={"window": {"level": 1, "white": {"cct_k": 3200}, "xy": [0.3, 0.3]}}),
         "scenes[0].cues[0].look.window: a light has both white and xy; remove one of the two"),
        (cue(look={"window": {"level": 1, "xy": [0.7, 0.4]}}),
         "scenes[0].cues[0].look.window: x + y is not below 1; give the chromaticity of a light that exists"),
        (cue(look={"window": {"level": 1, "xy": [0.3]}}),
         "scenes[0].cues[0].look.window.xy: the list has 1 of its 2 entries; "
         "give a list of 2, each a number above 0 and below 1"),
        (cue(look={"window": {"level": 1, "white": {"cct_k": 900}}}),
         "scenes[0].cues[0].look.window.white.cct_k: 900 is below 1000; give a number from 1000 to 25000"),
        (cue(look={"window": {"level": 1, "white": {"cct_k": 4000, "duv": -0.06}}}),
         "scenes[0].cues[0].look.window.white.duv: -0.06 is below -0.05; give a number from -0.05 to 0.05"),
        (cue(fade={"curve": "eased"}),
         'scenes[0].cues[0].fade.curve: "eased" is not a choice here, perhaps "ease" was meant; '
         'give one of "linear", "ease" or "stops"'),
        (cue(shortcut="ab"),
         "scenes[0].cues[0].shortcut: the text is 2 characters long; give one character"),
        (file_data(cues=[{"number": 1}]),
         'scenes[0].cues[0].number: 1 does not fit here; give a cue number in quotes such as "1" or "2.5"'),
        (file_data(cues=[{"number": "1a"}]),
         'scenes[0].cues[0].number: "1a" is not written as it must be here; '
         'give a cue number in quotes such as "1" or "2.5"'),
        (file_data(cues={"1": {}}),
         "scenes[0].cues: a group of fields stands here; "
         "give a list in brackets, each a group of fields in braces with number"),
        (file_data(camera={"iso": 800.0}),
         "scenes[0].camera.iso: 800.0 is written with a point; "
         "give a whole number above 0 and up to 1000000"),
        (file_data(name=""),
         "name: nothing is in it; give a text of at least one and at most 80 characters"),
        (file_data(output={"sacn": {"universes": {"one": {}}}}),
         'output.sacn.universes.one: "one" cannot be a name here; '
         'use a universe number in quotes such as "1"'),
        (file_data(format="onecrow-show"),
         'format: "onecrow-show" is not a choice here, perhaps "onecrew-show" was meant; '
         'give "onecrew-show"'),
    ],
)  # fmt: skip
def test_a_fault_of_a_part_is_one_sentence_in_plain_words(data: dict[str, Any], line: str) -> None:
    assert lines(data) == [line]


def test_a_name_with_blanks_is_shown_in_quotes_in_its_path() -> None:
    found = lines(cue(look={"Window left": {"level": 2}}))
    assert found[0].startswith('scenes[0].cues[0].look["Window left"]: "Window left" cannot be a name here')
    assert any(line.startswith('scenes[0].cues[0].look["Window left"].level: 2 is above 1') for line in found)


@pytest.mark.parametrize("name", ["format", "version", "name"])
def test_what_every_show_has_is_missed(name: str) -> None:
    data = file_data()
    del data[name]
    assert [fault.where for fault in faults_of(data)] == [name]


def test_the_present_version_is_named_to_one_who_has_a_newer_show() -> None:
    assert lines(file_data(version=7)) == [
        "version: the show is of version 7, this onecrew reads up to 2; install a newer onecrew"
    ]


def test_a_newer_show_is_not_blamed_for_fields_that_this_version_does_not_know() -> None:
    found = faults_of({**file_data(version=3, fog={"thickness": 0.2}), "name": ""})
    assert [fault.where for fault in found] == ["version", "name"]


@pytest.mark.parametrize("version", [0, -1, "1", 1.0, True, None])
def test_a_version_that_never_was(version: object) -> None:
    assert [fault.where for fault in faults_of(file_data(version=version))] == ["version"]


def test_a_number_that_is_none_is_told_once() -> None:
    text = json.dumps(cue(delay_s="?")).replace('"?"', "NaN")
    with pytest.raises(DocumentFaults) as caught:
        parse_show(text, "show.json", PROFILES)
    assert (
        str(caught.value) == "show.json: scenes[0].cues[0].delay_s: NaN is not a number; give a finite number"
    )


def test_faults_without_number_are_counted_not_listed() -> None:
    looks = {f"lamp-{number}": {"level": 2} for number in range(MAX_FAULTS)}
    found = faults_of(cue(look=looks))
    assert len(found) == MAX_FAULTS + 1
    assert found[-1].what == f"there are {MAX_FAULTS} faults more, or still others"


def test_a_file_with_more_in_it_than_a_show_can_hold_is_one_fault() -> None:
    assert lines(file_data(cues=[{"number": "1"}] * (MAX_VALUES // 2 + 1))) == [
        "the document holds far more than a show can; name the right file"
    ]
