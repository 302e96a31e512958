"""Cues: unique numbers and shortcuts, shortcuts that can be typed, looks of known fixtures."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.show.advise import SHOOT_KEYS, advise
from onecrew.show.check import check_show
from onecrew.show.show import Show
from tests.show.shows import PROFILES, fixture_data


def lines(*cues: dict[str, Any]) -> list[str]:
    rig = {"fixtures": [fixture_data()]}
    show = Show.model_validate({"name": "Cues", "rig": rig, "cues": cues})
    return [str(fault) for fault in check_show(show, PROFILES)]


@pytest.mark.parametrize("again", ["2", "2.0", "02", "2.000"])
def test_a_number_that_is_there_already_however_written(again: str) -> None:
    (line,) = lines({"number": "2"}, {"number": again})
    there = f"cue {again} is there already as scenes[0].cues[0]"
    assert line == f"scenes[0].cues[1].number: {there}; give each cue its own number"


def test_numbers_between_numbers_are_different() -> None:
    assert lines({"number": "2"}, {"number": "2.1"}, {"number": "2.10"}, {"number": "3"}) == []


def test_a_shortcut_that_runs_another_cue() -> None:
    assert lines({"number": "1", "shortcut": "5"}, {"number": "2", "shortcut": "5"}) == [
        'scenes[0].cues[1].shortcut: "5" is the shortcut of cue 1 already; give each cue its own shortcut'
    ]


def test_a_shortcut_is_told_from_its_capital() -> None:
    assert lines({"number": "1", "shortcut": "a"}, {"number": "2", "shortcut": "A"}) == []


@pytest.mark.parametrize("key", sorted(SHOOT_KEYS))
def test_a_shortcut_that_a_screen_uses_is_advice_and_no_fault(key: str) -> None:
    cue = {"number": "1", "shortcut": key}
    assert lines(cue) == []
    show = Show.model_validate({"name": "Cues", "rig": {"fixtures": [fixture_data()]}, "cues": [cue]})
    assert any("a key that Shoot uses itself" in line for line in advise(show, PROFILES))


@pytest.mark.parametrize("key", ["\n", "\x1b", "\x7f", "\u200b"])
def test_a_shortcut_that_nobody_can_type(key: str) -> None:
    (line,) = lines({"number": "1", "shortcut": key})
    assert "not a key that can be typed" in line


def test_a_look_that_names_no_fixture_of_the_rig() -> None:
    light = {"level": 0.5}
    assert lines({"number": "1", "look": {"windw": light, "zzz": light}}) == [
        'scenes[0].cues[0].look.windw: the rig has no fixture "windw"; perhaps "window" was meant',
        'scenes[0].cues[0].look.zzz: the rig has no fixture "zzz"; the rig has window',
    ]


def test_a_fixture_that_is_there_twice_is_offered_once() -> None:
    rig = {"fixtures": [{**fixture_data(), "id": name} for name in ("aa", "bb", "bb")]}
    cue = {"number": "1", "look": {"zzz": {"level": 0.5}}}
    show = Show.model_validate({"name": "Twice", "rig": rig, "cues": [cue]})
    [fault] = [fault for fault in check_show(show, PROFILES) if fault.where == "scenes[0].cues[0].look.zzz"]
    assert fault.fix == "the rig has aa and bb"


def test_cues_stand_in_the_order_of_their_numbers_however_given() -> None:
    show = Show.model_validate({"name": "x", "cues": [{"number": n} for n in ("10", "2.10", "2.9", "1")]})
    assert [cue.number for cue in show.cues] == ["1", "2.9", "2.10", "10"]
