"""Scenes by command: what each does to the show, what it leaves alone, and that no lamp changes its light."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.commands.context import Context
from onecrew.commands.cues import PutCue, Store
from onecrew.commands.light import SetLight
from onecrew.commands.rig import PutFixture
from onecrew.commands.running import Go, Lock, Recall
from onecrew.commands.scenes import NewScene, OpenScene, RemoveScene, RenameFixture, RenameScene
from onecrew.commands.session import Undo
from onecrew.commands.table import apply_edit, read_words
from onecrew.engine.desk import Desk
from onecrew.errors import DocumentFaults, Mistake, Refused
from onecrew.language.names import no_cue
from onecrew.shipped import shipped
from onecrew.show.dump import dump_show
from onecrew.show.load import load_show, parse_show
from onecrew.show.profiles import load_profiles
from onecrew.show.scenes import scene_with_cue, scenes_of, with_scenes
from onecrew.show.show import Cue, Show

PROFILES = load_profiles()
SHOW = load_show(shipped("examples") / "night-baker.json", PROFILES)


def names(show: Show) -> list[str]:
    return [scene.name for scene in scenes_of(show)]


def edited(*commands: object, show: Show = SHOW) -> Show:
    for command in commands:
        show = apply_edit(show, command, PROFILES)  # type: ignore[arg-type]
    return show


def test_a_scene_is_found_whatever_its_letters() -> None:
    assert edited(OpenScene(name="delivery")).scene == "Delivery"
    with pytest.raises(Refused, match="There is no scene Delivry; perhaps Delivery was meant"):
        edited(OpenScene(name="Delivry"))


def test_a_new_scene_has_the_lamps_as_they_stand_and_no_cues() -> None:
    show = edited(NewScene(name="Dawn"))
    assert (names(show), show.scene, show.cues) == (["Opening", "Dawn", "Delivery"], "Dawn", ())
    assert (show.rig, show.camera) == (SHOW.rig, SHOW.camera)
    assert edited(OpenScene(name="Opening"), show=show).cues == SHOW.cues


def test_an_empty_scene_keeps_the_roles_alone() -> None:
    show = edited(NewScene(name="Dawn", empty=True))
    assert [lamp.role for lamp in show.rig.fixtures] == [lamp.role for lamp in SHOW.rig.fixtures]
    assert not any(lamp.place or lamp.modifiers or lamp.note for lamp in show.rig.fixtures)
    assert show.rig.set_pieces == ()


@pytest.mark.parametrize("command", [NewScene(name="delivery"), RenameScene(name="DELIVERY")])
def test_no_name_twice(command: object) -> None:
    with pytest.raises(Refused, match="already; give the new one another name"):
        edited(command)


def test_the_open_scene_takes_its_own_name_in_other_capitals() -> None:
    show = edited(RenameScene(name="OPENING"))
    assert names(show) == ["OPENING", "Delivery"]
    assert names(edited(RenameScene(name="Opening"), show=show)) == ["Opening", "Delivery"]


def test_the_open_scene_is_not_deleted() -> None:
    with pytest.raises(Refused, match="Opening is the open scene; open another one"):
        edited(RemoveScene(name="opening"))
    assert names(edited(RemoveScene(name="Delivery"))) == ["Opening"]


def test_a_renamed_lamp_keeps_its_place_in_every_look_of_every_scene() -> None:
    show = edited(RenameFixture(id="street", to="shutter"))
    assert parse_show(dump_show(show), "show.json", PROFILES) == show
    assert [list(cue.look) for cue in show.cues] == [
        ["shutter" if name == "street" else name for name in cue.look] for cue in SHOW.cues
    ]
    van = edited(OpenScene(name="Delivery"), show=show).fixture("shutter")
    assert van is not None and van.role == "effect" and van.place is not None
    with pytest.raises(Refused, match="There is a lamp hood already"):
        edited(RenameFixture(id="street", to="hood"))


def test_a_cue_number_is_unique_in_the_show() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    with pytest.raises(Refused, match="Cue 6 is in the scene Delivery; take another number"):
        desk.carry_out(Store(cue="6"), 0.0)
    with pytest.raises(DocumentFaults, match="cue 6 is there already"):
        desk.carry_out(PutCue(cue=Cue(number="6")), 0.0)
    assert desk.show == SHOW


# ── The light ───────────────────────────────────────────────────────────────────────────────────────


def test_the_light_stays_when_a_scene_opens_and_its_first_cue_is_next() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    for second in (0.0, 10.0):
        desk.carry_out(Go(), second)
    desk.carry_out(OpenScene(name="Delivery"), 20.0)
    assert (desk.playback.cue, desk.playback.next) == (None, "6")
    before = desk.frame(20.0).level
    desk.advance(500.0)  # the auto-follow of cue 2 belongs to the other scene
    assert np.array_equal(desk.frame(500.0).level, before)
    desk.carry_out(Go(), 500.0)
    assert (desk.playback.cue, desk.playback.next) == ("6", "7")


def test_the_light_stays_when_a_lamp_is_renamed_and_when_that_is_taken_back() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(SetLight(fixtures=("street", "sky"), level=0.22), 1.0)
    before = desk.frame(2.0).level
    assert before.max() > 0.2
    desk.carry_out(RenameFixture(id="street", to="shutter"), 3.0)
    assert desk.playback.ids[0] == "shutter"
    assert np.array_equal(desk.frame(4.0).level, before)


def test_a_lamp_patched_anew_in_the_place_of_another_is_dark() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(SetLight(fixtures=("sky",), level=0.22), 1.0)
    other = SHOW.rig.fixtures[-1].model_copy(update={"id": "wall", "address": 200})
    desk.carry_out(PutFixture(fixture=other), 2.0)
    assert desk.frame(3.0).level[-1] == 0.0


@pytest.mark.parametrize(
    "command",
    [OpenScene(name="Delivery"), NewScene(name="Dawn"), RenameScene(name="Dusk"),
     RemoveScene(name="Delivery"), RenameFixture(id="sky", to="wall")],
    ids=lambda command: command.kind,
)  # fmt: skip
def test_a_locked_desk_keeps_its_scenes(command: object) -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(Lock(on=True), 0.0)
    with pytest.raises(Refused, match="locked"):
        desk.carry_out(command, 1.0)  # type: ignore[arg-type]
    assert desk.show == SHOW


def test_undo_brings_a_deleted_scene_back() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(RemoveScene(name="Delivery"), 0.0)
    assert desk.undo_words == "delete the scene Delivery"
    desk.carry_out(Undo(), 1.0)
    assert desk.show == SHOW


@pytest.mark.parametrize(
    ("number", "near"),
    [("7.5", "6, 7, 8, 9"), ("0", "1, 2, 3, 4"), ("99", "17, 18, 19, 20"), ("19.5", "17, 18, 19, 20")],
)
def test_a_wrong_number_among_many_cues_names_those_that_are_near(number: str, near: str) -> None:
    cues = [Cue(number=str(each)) for each in range(1, 21)]
    assert no_cue(number, cues, {}) == f"there is no cue {number} in this scene; the nearest are {near}"


@pytest.mark.parametrize(
    "words",
    ["recall 99", "cue 99 fade=4s", "remove 99", "copy 99 to 3", "renumber 99 to 3", "times 99 to 1",
     "in 99 set hood level=20%", "replace 99", "take start from 99", "countdown 10 recall 99"],
)  # fmt: skip
def test_every_command_says_of_a_wrong_number_what_there_is(words: str) -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    with pytest.raises(Mistake, match="there is no cue 99 in this scene; it has 1, 2, 3, 4, 5"):
        desk.carry_out(read_words(words.split(), Context(desk.show, desk.profiles)), 1.0)


def test_a_cue_of_another_scene_says_where_it_is() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    with pytest.raises(Refused, match="cue 6 is in the scene Delivery: open that scene first"):
        desk.carry_out(Recall(cue="6"), 0.0)
    with pytest.raises(Refused, match="there is no cue 99 in this scene; it has 1, 2, 3, 4, 5"):
        desk.carry_out(Recall(cue="99"), 0.0)


@pytest.mark.parametrize(
    ("said", "scene"), [("7", "Delivery"), ("at the DOOR", "Delivery"), ("3", "Opening"), ("99", "Opening")]
)
def test_a_sheet_finds_the_scene_of_its_cue(said: str, scene: str) -> None:
    assert scene_with_cue(SHOW, said).scene == scene


@pytest.mark.parametrize(
    ("there", "typed"),
    [("Caf\u00e9", "Cafe\u0301"), ("Cafe\u0301", "CAF\u00c9"), ("Gasse", "Gaße"), ("Yard", " yard ")],
)
def test_names_that_look_alike_are_one(there: str, typed: str) -> None:
    show = edited(NewScene(name=there))
    for command in (NewScene(name=typed), RenameScene(name=typed)):
        with pytest.raises(Refused, match="already"):
            edited(OpenScene(name="Opening"), command, show=show)
    assert edited(OpenScene(name="Opening"), OpenScene(name=typed), show=show).scene == there


def test_of_names_that_differ_by_their_letters_alone_the_one_that_was_said_is_meant() -> None:
    """As no command leaves them, but a hand that writes the file may."""
    opening, *others = scenes_of(SHOW)
    scenes = (opening, *(others[0].model_copy(update={"name": name}) for name in ("yard", "Yard")))
    assert edited(OpenScene(name="Yard"), show=with_scenes(SHOW, scenes, opening.name)).scene == "Yard"
