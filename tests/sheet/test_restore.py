"""A cue again from a sheet: the same light where the lamps are the same, a word for each that is not."""

from __future__ import annotations

import pytest

from onecrew.commands.cues import PutCue
from onecrew.commands.rig import PutFixture, RemoveFixture
from onecrew.commands.table import apply_edit
from onecrew.engine.sheets import recorded_state_of_cue
from onecrew.errors import Refused
from onecrew.log.recorded_state import RecordedState
from onecrew.sheet.restore import restore
from onecrew.show.show import Fixture, Show
from tests.sheet.sheets import bakery, ovens_on, profiles


def lamp(name: str, kind: str, mode: str, address: int, role: str = "fill") -> Fixture:
    return Fixture.model_validate(
        {"id": name, "profile": kind, "mode": mode, "universe": 9, "address": address, "role": role}
    )


def without(name: str, *more: Fixture) -> Show:
    show = apply_edit(bakery(), RemoveFixture(id=name), profiles())
    for fixture in more:
        show = apply_edit(show, PutFixture(fixture=fixture), profiles())
    return show


@pytest.mark.parametrize("number", [cue.number for cue in bakery().cues])
def test_the_same_rig_gives_the_same_slots(number: str) -> None:
    before = recorded_state_of_cue(bakery(), profiles(), number)
    made = restore(before, bakery(), "9")
    assert all(one.state == "same" for one in made.lamps)
    show = apply_edit(bakery(), PutCue(cue=made.cue), profiles())
    after = recorded_state_of_cue(show, profiles(), "9")
    assert [one.sent for one in after.lamps] == [one.sent for one in before.lamps]
    assert [one.light.effect for one in after.lamps] == [one.light.effect for one in before.lamps]


def test_a_lamp_that_is_gone_is_told_with_lamps_that_could_stand_in() -> None:
    spare = lamp("spare", "bulb-rgbww", "8-bit", 1)
    other = lamp("lantern", "practical-dimmer", "8-bit", 20, "practical")
    alien = lamp("sun", "spot-daylight", "8-bit", 40)
    made = restore(ovens_on(), without("pendant", alien, other, spare), "9")
    [gone] = made.of("missing")
    assert (gone.id, gone.candidates) == ("pendant", ("spare", "lantern"))
    assert "pendant" not in made.cue.look and len(made.cue.look) == 4
    assert made.unknown == ("sun", "lantern", "spare")


def test_the_light_of_one_goes_onto_another() -> None:
    show = without("pendant", lamp("spare", "bulb-rgbww", "8-bit", 1))
    made = restore(ovens_on(), show, "9", instead={"pendant": "spare"})
    assert made.cue.look["spare"].level == 0.45
    assert [one.state for one in made.lamps] == ["same"] * 5
    assert made.unknown == ()


def test_a_lamp_of_another_kind_is_told() -> None:
    show = apply_edit(
        bakery(), PutFixture(fixture=lamp("window", "panel-rgbww", "16-bit", 1, "key")), profiles()
    )
    [changed] = restore(ovens_on(), show, "9").of("changed")
    assert changed.id == "window" and changed.now is not None and changed.now.profile == "panel-rgbww"


@pytest.mark.parametrize(
    ("instead", "said"),
    [
        ({"sun": "tone"}, "sheet has no lamp sun"),
        ({"pendant": "sun"}, "rig has no lamp sun"),
        ({"pendant": "tone"}, "would both go onto tone"),
    ],
)
def test_exchanges_that_make_no_sense_are_told(instead: dict[str, str], said: str) -> None:
    with pytest.raises(Refused, match=said):
        restore(ovens_on(), bakery(), "9", instead=instead)


def test_names() -> None:
    assert restore(ovens_on(), bakery(), "9").cue.name == "Ovens on"
    assert restore(ovens_on(), bakery(), "9", "Mine").cue.name == "Mine"
    take = {**ovens_on().model_dump(mode="json"), "take": {"setup": "12A", "number": 3}}
    assert restore(RecordedState.model_validate(take), bakery(), "9").cue.name == "Ovens on 12A/3"
    assert restore(RecordedState(show="x"), bakery(), "9").cue.name == "From a sheet"
    for setup in ("By the oven, from the left, " * 2 + "seen", "x" * 80):
        take["take"] = {"setup": setup, "number": 12}
        name = restore(RecordedState.model_validate(take), bakery(), "9").cue.name
        assert name.endswith(f"{setup}/12"[-80:]) and len(name) <= 80
