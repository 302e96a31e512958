"""The shows that come with onecrew load, need no advice, and are written as the program writes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.shipped import shipped
from onecrew.show.check import advise, check_show
from onecrew.show.dump import dump_show
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PROFILES = load_profiles([shipped("profiles")])


def example(name: str) -> Show:
    return load_show(EXAMPLES / name, PROFILES)


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.json")), ids=lambda file: file.name)
def test_every_example_loads_without_fault_or_advice(file: Path) -> None:
    show = load_show(file, PROFILES)
    assert check_show(show, PROFILES) == []
    assert advise(show, PROFILES) == []
    assert dump_show(show) == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.json")), ids=lambda file: file.name)
def test_every_example_sends_to_this_machine_only(file: Path) -> None:
    universes = load_show(file, PROFILES).output.sacn.universes
    assert {to for universe in universes.values() for to in universe.to} == {"127.0.0.1"}


def test_the_night_baker_has_its_six_lamps_and_five_cues() -> None:
    show = example("night-baker.json")
    assert {f.id for f in show.rig.fixtures} == {"street", "hood", "oven", "lamp", "fridge", "sky"}
    assert len({f.profile for f in show.rig.fixtures}) == 6
    assert {f.universe for f in show.rig.fixtures} == {1, 2}
    assert [(cue.number, cue.shortcut, cue.name) for cue in show.cues] == [
        ("1", "1", "Working light"),
        ("2", "2", "Before four"),
        ("3", "3", "Ovens on"),
        ("4", "4", "The baker turns"),
        ("5", "5", "Second pass"),
    ]


def test_the_night_baker_uses_what_the_desk_can_do() -> None:
    show = example("night-baker.json")
    lights = [(name, light) for cue in show.cues for name, light in cue.look.items()]
    effects = {(name, light.effect.kind) for name, light in lights if light.effect is not None}
    assert effects == {("oven", "flame")}
    assert any(cue.auto_follow_s is not None for cue in show.cues)
    assert any(cue.fade.curve == "stops" for cue in show.cues)
    assert min(light.level for _, light in lights) <= 0.035
    assert any(light.xy is not None for _, light in lights)
    assert any(light.white is not None and light.white.duv != 0.0 for _, light in lights)


def test_both_passes_of_the_two_character_shot_flicker_alike() -> None:
    show = example("night-baker.json")
    first, second = show.cue("3"), show.cue("5")
    assert first is not None and second is not None
    assert first.look["oven"].effect == second.look["oven"].effect


def test_the_effects_example_shows_each_effect_once_on_the_same_rig() -> None:
    show = example("effects.json")
    assert show.rig == example("night-baker.json").rig
    kinds = [light.effect.kind for cue in show.cues for light in cue.look.values() if light.effect]
    assert sorted(kinds) == ["failing-tube", "flame", "headlights", "lightning", "television"]
