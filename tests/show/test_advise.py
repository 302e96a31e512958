"""Hints: a faultless show may still hold a slip, and the person learns what not to expect."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.show.check import advise, check_show
from onecrew.show.new import new_show
from onecrew.show.show import Scene, Show
from tests.show.shows import PROFILES, fixture_data, show_data


def hints(**changes: Any) -> list[str]:
    show = Show.model_validate(show_data(**changes))
    assert check_show(show, PROFILES) == []
    return advise(show, PROFILES)


def one_cue(fixture: dict[str, Any], light: dict[str, Any], **more: Any) -> list[str]:
    cue = {"number": "1", "look": {fixture["id"]: light}, **more}
    return hints(rig={"fixtures": [fixture]}, cues=[cue])


def test_a_good_show_needs_no_advice() -> None:
    assert hints() == []


def test_a_new_show_has_no_fixtures() -> None:
    assert advise(new_show("Kitchen"), PROFILES) == ["The rig has no fixtures yet."]


def test_a_lamp_that_another_scene_lights_is_lit_and_a_slip_of_another_scene_is_told() -> None:
    lit = one_cue(fixture_data(), {"level": 0.0})
    assert any(hint.startswith("No cue lights") for hint in lit)
    dark = {"number": "1", "look": {fixture_data()["id"]: {"level": 0.0}}}
    show = Show.model_validate(show_data(rig={"fixtures": [fixture_data()]}, cues=[dark]))
    bright = dark | {"number": "2", "shortcut": "h", "look": {fixture_data()["id"]: {"level": 1.0}}}
    other = Scene.model_validate({"name": "Yard", "cues": [bright]})
    said = advise(show.model_copy(update={"other_scenes": (other,)}), PROFILES)
    assert not any(hint.startswith("No cue lights") for hint in said)
    assert any('Cue 2 has the shortcut "h"' in hint for hint in said)


def test_multicast_is_advised_against() -> None:
    expected = (
        "Universe 1 goes out by multicast, which Wi-Fi often drops: "
        "list the receivers in output.sacn.universes.1.to."
    )
    assert hints(output={}) == [expected]
    assert hints(output={"sacn": {"universes": {"1": {}}}}) == [expected]
    assert hints(output={"artnet": {"universes": {"1": {"to": ["10.0.0.1"]}}}}) == []


def test_a_universe_that_nothing_is_patched_in() -> None:
    universes = {"1": {"to": ["127.0.0.1"]}, "4": {"to": ["127.0.0.1"]}}
    assert hints(output={"sacn": {"universes": universes}}) == [
        "output.sacn lists universe 4, in which no fixture is patched."
    ]


def test_a_fixture_that_no_cue_lights() -> None:
    cues = [{"number": "1", "look": {"window": {"level": 0.4}, "lamp": {"level": 0}}}]
    assert hints(cues=cues) == ["No cue lights lamp."]


def test_a_follow_on_with_nothing_to_follow() -> None:
    (hint,) = one_cue(fixture_data(), {"level": 1}, auto_follow_s=3)
    assert hint == "Cue 1 is the last and has an auto-follow, but no cue comes after it."


@pytest.mark.parametrize(("auto_follow_s", "told"), [(1.0, True), (5.0, True), (5.5, False)])
def test_a_follow_on_before_the_delay_is_over(auto_follow_s: float, told: bool) -> None:
    look = {fixture_data()["id"]: {"level": 1}}
    first = {"number": "1", "look": look, "delay_s": 5, "auto_follow_s": auto_follow_s}
    found = hints(rig={"fixtures": [fixture_data()]}, cues=[first, {"number": "2", "look": look}])
    hint = (
        f"Cue 1 gives way before it shows: its auto-follow ({auto_follow_s:g} s) and its delay (5 s) both "
        "count from its start."
    )
    assert found == ([hint] if told else [])


def test_a_cue_without_flash_guard_comes_with_its_warning() -> None:
    (hint,) = one_cue(fixture_data(), {"level": 1}, flash_guard=False)
    assert "photosensitive" in hint


@pytest.mark.parametrize(
    ("profile", "mode", "light", "hint"),
    [
        ("panel-cct-tint", "8-bit", {"white": {"cct_k": 9000}},
         "Cue 1 asks window for 9000 K, and it reaches 2700 to 6500 K: it gives the nearest."),
        ("panel-cct-tint", "8-bit", {"xy": [0.6, 0.3]},
         "Cue 1 asks window for a colour, and it takes whites only: it gives the nearest white."),
        ("spot-daylight", "8-bit", {"white": {"cct_k": 3200}},
         "Cue 1 asks window for a white, and it has only a dimmer: it keeps its own white."),
        ("spot-daylight", "8-bit", {"xy": [0.6, 0.3]},
         "Cue 1 asks window for a colour, and it has only a dimmer: it keeps its own white."),
    ],
)  # fmt: skip
def test_a_colour_that_a_fixture_cannot_be_told(
    profile: str, mode: str, light: dict[str, Any], hint: str
) -> None:
    fixture = fixture_data(profile=profile, mode=mode)
    assert one_cue(fixture, {"level": 0.5, **light}) == [hint]


@pytest.mark.parametrize(
    ("profile", "light"),
    [
        ("panel-cct-tint", {"level": 0.5, "white": {"cct_k": 2700}}),
        ("panel-cct-tint", {"level": 0.5}),
        ("spot-daylight", {"level": 0.5}),
        ("spot-six", {"level": 0.5, "xy": [0.6, 0.3]}),
    ],
)
def test_what_a_fixture_can_be_told_needs_no_hint(profile: str, light: dict[str, Any]) -> None:
    assert one_cue(fixture_data(profile=profile, mode="8-bit"), light) == []


def test_remotes_on_the_network() -> None:
    assert hints(remote={"osc": {"listen": "127.0.0.1:9001"}, "page": {"listen": "127.0.0.1:9080"}}) == []
    osc, page = hints(remote={"osc": {"listen": "0.0.0.0:9001"}, "page": {"listen": "0.0.0.0:9080"}})
    assert "remote.osc.allow" in osc
    assert "remote.page" in page
    assert hints(remote={"osc": {"listen": "0.0.0.0:9001", "allow": ["10.0.0.7"]}}) == []
