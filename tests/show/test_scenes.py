"""Scenes: one patch, several setups of it; nothing of a scene that is not open is lost or changed."""

from __future__ import annotations

import pytest
from hypothesis import given

from onecrew.commands.rig import PutFixture, RemoveFixture
from onecrew.commands.table import apply_edit
from onecrew.show.dump import dump_show
from onecrew.show.load import parse_show
from onecrew.show.scenes import document_of, open_scene, scenes_of, show_of, with_scenes
from onecrew.show.show import Arrangement, Camera, Cue, Place, Scene, SetPiece, Show
from tests.show.shows import PROFILES, fixture_data, show_data, shows

SECOND = Scene(
    name="Delivery",
    arrangement={"window": Arrangement(role="edge", place=Place(x_m=1.0, y_m=2.0), note="by the door")},
    set_pieces=(SetPiece(id="door", kind="furniture"),),
    camera=Camera(iso=1600),
    cues=(Cue(number="20", shortcut="1"),),
)


def two_scenes() -> Show:
    return Show.model_validate({**show_data(), "other_scenes": [SECOND]})


def test_another_scene_has_its_own_roles_places_pieces_camera_and_cues() -> None:
    show = open_scene(two_scenes(), "Delivery")
    window = show.fixture("window")
    assert window is not None
    assert (window.role, window.note, window.place) == ("edge", "by the door", Place(x_m=1.0, y_m=2.0))
    assert (window.profile, window.address) == ("panel-cct-tint", 1)
    assert [piece.id for piece in show.rig.set_pieces] == ["door"]
    assert (show.camera.iso, [cue.number for cue in show.cues]) == (1600, ["20"])
    assert [scene.name for scene in scenes_of(show)] == ["Scene 1", "Delivery"]
    lamp = show.fixture("lamp")
    assert lamp is not None and (lamp.role, lamp.place) == ("fill", None), "not arranged there yet"


def test_there_and_back_changes_nothing() -> None:
    show = two_scenes()
    back = open_scene(open_scene(show, "Delivery"), "Scene 1")
    alone = {"other_scenes": ()}
    assert back.model_copy(update=alone) == show.model_copy(update=alone)
    assert open_scene(open_scene(back, "Delivery"), "Scene 1") == back
    with pytest.raises(KeyError):
        open_scene(show, "Dawn")


def test_the_open_scene_is_kept_in_the_file() -> None:
    show = open_scene(two_scenes(), "Delivery")
    again = parse_show(dump_show(show), "show.json", PROFILES)
    assert (again.scene, again.scene_at) == ("Delivery", 1)
    assert again == show_of(document_of(show))


@given(shows())
def test_show_and_document_are_the_same_thing(show: Show) -> None:
    assert show_of(document_of(show)) == show


def test_a_lamp_taken_out_is_out_of_every_scene() -> None:
    lit = SECOND.model_copy(
        update={"cues": (Cue.model_validate({"number": "20", "look": {"window": {"level": 0.5}}}),)}
    )
    show = Show.model_validate({**show_data(), "other_scenes": [lit]})
    after = apply_edit(show, RemoveFixture(id="window"), PROFILES)
    assert after.other_scenes[0].arrangement == {} and after.other_scenes[0].cues[0].look == {}
    assert parse_show(dump_show(after), "show.json", PROFILES).fixture("window") is None


def test_a_new_lamp_has_its_role_in_every_scene_and_a_place_in_none_but_its_own() -> None:
    spot = fixture_data(id="spot", profile="spot-daylight", mode="8-bit", address=60, role="edge",
                        place={"x_m": 1.0, "y_m": 1.0})  # fmt: skip
    after = apply_edit(two_scenes(), PutFixture.model_validate({"fixture": spot}), PROFILES)
    assert after.other_scenes[0].arrangement["spot"] == Arrangement(role="edge")


def test_scenes_can_be_put_in_another_order() -> None:
    show = two_scenes()
    turned = with_scenes(show, reversed(scenes_of(show)), "Scene 1")
    assert ([scene.name for scene in scenes_of(turned)], turned.scene_at) == (["Delivery", "Scene 1"], 1)
    assert turned.cues == show.cues
