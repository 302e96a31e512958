"""Every change of a show, pure: the show after it, or a sentence why not."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from onecrew.commands.camera import SetCamera
from onecrew.commands.command import ShowCommand
from onecrew.commands.cue_list import CopyCue, CopyTimes, Learn, RenumberCue, SetInCues
from onecrew.commands.cues import PutCue, RemoveCue, Store, store_look
from onecrew.commands.light import SetLight
from onecrew.commands.network import SetOutput, SetRemote
from onecrew.commands.rig import PutFixture, RemoveFixture, SwapAddresses
from onecrew.commands.room import SetRoom
from onecrew.commands.scenes import NewScene, OpenScene, RemoveScene, RenameFixture, RenameScene
from onecrew.commands.session import Redo, Rename, Undo
from onecrew.commands.set_pieces import PutSetPiece, RemoveSetPiece
from onecrew.commands.table import TABLE, apply_edit, in_words
from onecrew.errors import DocumentFaults, Refused
from onecrew.show.check import check_show
from onecrew.show.light import Light, White
from onecrew.show.photometry import Room
from onecrew.show.show import (
    Camera,
    Cue,
    Fade,
    Fixture,
    Osc,
    Output,
    Place,
    Predicted,
    PredictedRegion,
    Reading,
    Remote,
    Sacn,
    SetPiece,
    Show,
)
from tests.show.shows import PROFILES, fixture_data, show_data, shows

SHOW = Show.model_validate({**show_data(), "other_scenes": [{"name": "Delivery"}]})
FLAG = SetPiece(id="flag", kind="flag")
SPOT = Fixture(id="spot", profile="spot-six", mode="8-bit", universe=1, address=30, role="edge")

EDITS: dict[str, tuple[ShowCommand, str]] = {
    "put-cue": (PutCue(cue=Cue(number="1.5", name="Between")), "change cue 1.5"),
    "remove-cue": (RemoveCue(number="1"), "remove cue 1"),
    "put-fixture": (PutFixture(fixture=SPOT), "patch spot"),
    "remove-fixture": (RemoveFixture(id="lamp"), "remove lamp"),
    "swap-addresses": (SwapAddresses(id="lamp", with_id="window"), "swap the addresses of lamp and window"),
    "put-set-piece": (PutSetPiece(set_piece=FLAG), "place flag"),
    "remove-set-piece": (RemoveSetPiece(id="card"), "remove card"),
    "set-camera": (SetCamera(camera=Camera(iso=1600)), "change the camera notes"),
    "set-room": (SetRoom(room=Room(width_m=4.0, walls="dark")), "change the room"),
    "set-output": (SetOutput(output=Output(sacn=Sacn(priority=120))), "change the outputs"),
    "set-remote": (SetRemote(remote=Remote(osc=Osc())), "change the remotes"),
    "copy-cue": (CopyCue(cue="1", to="9"), "copy cue 1 to 9"),
    "renumber-cue": (RenumberCue(cue="1", to="1.7"), "renumber cue 1 to 1.7"),
    "copy-times": (CopyTimes(cue="3", to=("1",)), "copy the times of cue 3 to 1"),
    "open-scene": (OpenScene(name="delivery"), "open the scene delivery"),
    "new-scene": (NewScene(name="Dawn"), "add the scene Dawn"),
    "rename-scene": (RenameScene(name="Supper"), "rename the scene to Supper"),
    "remove-scene": (RemoveScene(name="Delivery"), "delete the scene Delivery"),
    "rename-fixture": (RenameFixture(id="lamp", to="bulb"), "rename lamp to bulb"),
    "rename": (Rename(name="Kitchen, day"), "rename the show to Kitchen, day"),
}
ENGINE_S_OWN: dict[str, tuple[ShowCommand, str]] = {
    "store": (Store(cue="3"), "store cue 3"),
    "learn": (Learn(), "learn the times of the last take"),
    "set-in-cues": (
        SetInCues(cues=("1", "2"), change=SetLight(fixtures=("lamp",), level=0.3)),
        "set lamp in cue 1, 2",
    ),
    "undo": (Undo(), "undo"),
    "redo": (Redo(), "redo"),
}


def with_card() -> Show:
    """A show with a set piece, and a cue that fades in its own time."""
    slow = PutCue(cue=Cue(number="3", fade=Fade(in_s=5.0)))
    card = PutSetPiece(set_piece=SetPiece(id="card", kind="reflector"))
    return apply_edit(apply_edit(SHOW, card, PROFILES), slow, PROFILES)


def test_each_show_command_has_an_edit_or_is_the_engine_s_own() -> None:
    kinds = {kind for kind, row in TABLE.items() if issubclass(row.model, ShowCommand)}
    assert kinds == set(EDITS) | set(ENGINE_S_OWN)


@pytest.mark.parametrize("kind", sorted(EDITS))
def test_each_edit_changes_the_show_and_leaves_it_faultless(kind: str) -> None:
    before = with_card()
    copy = before.model_copy(deep=True)
    after = apply_edit(before, EDITS[kind][0], PROFILES)
    assert after != before
    assert before == copy
    assert check_show(after, PROFILES) == []
    assert Show.model_validate(after.model_dump()) == after


@pytest.mark.parametrize("kind", sorted(EDITS | ENGINE_S_OWN))
def test_each_command_can_be_said_in_words(kind: str) -> None:
    command, words = (EDITS | ENGINE_S_OWN)[kind]
    assert command.kind == kind
    assert in_words(command) == words


@pytest.mark.parametrize("kind", sorted(ENGINE_S_OWN))
def test_what_needs_more_than_the_show_is_not_done_here(kind: str) -> None:
    with pytest.raises(TypeError):
        apply_edit(SHOW, ENGINE_S_OWN[kind][0], PROFILES)


def test_store_says_whether_a_look_is_replaced() -> None:
    assert in_words(Store()) == "store a new cue"
    assert in_words(Store(replace=True)) == "replace the current cue"
    assert in_words(Store(cue="3", replace=True)) == "replace cue 3"


def test_a_new_cue_goes_where_its_number_puts_it_and_an_old_one_is_replaced() -> None:
    after = apply_edit(SHOW, PutCue(cue=Cue(number="1.5")), PROFILES)
    assert [cue.number for cue in after.cues] == ["1", "1.5", "2"]
    again = apply_edit(after, PutCue(cue=Cue(number="1.5", name="Named")), PROFILES)
    assert [cue.name for cue in again.cues] == ["", "Named", ""]


def test_a_new_cue_never_takes_the_place_of_one_that_is_there() -> None:
    new = PutCue(cue=Cue(number="1.5"), new=True)
    after = apply_edit(SHOW, new, PROFILES)
    with pytest.raises(Refused, match=r"there is a cue 1\.5 already"):
        apply_edit(after, new, PROFILES)


def test_a_replaced_fixture_keeps_its_place_in_the_rig_and_its_light_in_the_cues() -> None:
    swapped = SPOT.model_copy(update={"id": "window", "address": 40})
    after = apply_edit(SHOW, PutFixture(fixture=swapped), PROFILES)
    assert [fixture.id for fixture in after.rig.fixtures] == ["window", "lamp"]
    assert after.fixture("window") == swapped
    assert after.cues == SHOW.cues


def test_a_fixture_that_goes_leaves_every_look() -> None:
    after = apply_edit(SHOW, RemoveFixture(id="window"), PROFILES)
    assert [sorted(cue.look) for cue in after.cues] == [[], ["lamp"]]


def test_a_set_piece_is_moved_or_taken_away() -> None:
    moved = apply_edit(with_card(), PutSetPiece(set_piece=SetPiece(id="card", kind="flag")), PROFILES)
    assert [piece.kind for piece in moved.rig.set_pieces] == ["flag"]
    assert apply_edit(moved, RemoveSetPiece(id="card"), PROFILES).rig == SHOW.rig


@pytest.mark.parametrize(
    ("command", "sentence"),
    [
        (RemoveCue(number="9"), "there is no cue 9 in this scene; it has 1, 2"),
        (RemoveFixture(id="windw"), "The rig has no fixture windw; perhaps window was meant."),
        (RemoveFixture(id="zzz"), "The rig has no fixture zzz."),
        (SwapAddresses(id="lamp", with_id="zzz"), "The rig has no fixture zzz."),
        (SwapAddresses(id="lamp", with_id="lamp"), "lamp has its own address already; name two fixtures"),
        (RemoveSetPiece(id="flag"), "There is no set piece flag."),
    ],
)
def test_what_is_not_there_cannot_be_removed(command: ShowCommand, sentence: str) -> None:
    with pytest.raises(Refused) as caught:
        apply_edit(SHOW, command, PROFILES)
    assert str(caught.value) == sentence


WINDOW = SHOW.rig.fixtures[0]
READ = Reading(asked_cct_k=4300, measured_cct_k=4400, measured_duv=0.001, light=100)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"place": Place(x_m=1.0, y_m=2.0)}, "move window"),
        ({"address": 100}, "change the address of window"),
        ({"role": "edge"}, "change the role of window"),
        ({"calibration": (READ,)}, "calibrate window"),
        ({"note": "hums"}, "change the note of window"),
        ({"note": "hums", "role": "edge"}, "change window"),
        ({"mode": "9-bit"}, "patch window"),
        ({"id": "other"}, "patch other"),
    ],
)
def test_a_changed_lamp_is_told_by_what_changes(fields: dict[str, object], said: str) -> None:
    assert in_words(PutFixture(fixture=WINDOW.model_copy(update=fields)), SHOW) == said


def test_the_camera_that_is_moved_and_a_cue_that_is_new_are_told_as_that() -> None:
    moved = SHOW.camera.model_copy(update={"place": Place(x_m=1.0, y_m=2.0)})
    assert in_words(SetCamera(camera=moved), SHOW) == "move the camera"
    also = moved.model_copy(update={"iso": 3200})
    assert in_words(SetCamera(camera=also), SHOW) == "change the camera notes"
    assert in_words(PutCue(cue=Cue(number="1.5")), SHOW) == "add cue 1.5"
    assert in_words(PutCue(cue=Cue(number="1")), SHOW) == "change cue 1"


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (
            PutFixture(fixture=SPOT.model_copy(update={"address": 4})),
            "patch spot: rig.fixtures[2].address: spot overlaps window on slots 4–6 of universe 1; "
            "address 17 is free",
        ),
        (
            PutFixture(fixture=SPOT.model_copy(update={"mode": "9-bit"})),
            'patch spot: rig.fixtures[2].mode: profile spot-six has no mode "9-bit", '
            'perhaps "8-bit" was meant; it has 8-bit and 16-bit',
        ),
        (
            PutCue(cue=Cue(number="3", shortcut="1")),
            'add cue 3: scenes[0].cues[2].shortcut: "1" is the shortcut of cue 1 already; '
            "give each cue its own shortcut",
        ),
        (
            PutCue(cue=Cue(number="2.0")),
            "add cue 2.0: scenes[0].cues[2].number: cue 2.0 is there already as scenes[0].cues[1]; "
            "give each cue its own number",
        ),
        (
            PutCue(cue=Cue(number="3", look={"lmp": Light(level=1)})),
            'add cue 3: scenes[0].cues[2].look.lmp: the rig has no fixture "lmp"; perhaps "lamp" was meant',
        ),
    ],
)
def test_an_edit_that_would_do_harm_is_refused_with_its_fault(command: ShowCommand, told: str) -> None:
    with pytest.raises(DocumentFaults) as caught:
        apply_edit(SHOW, command, PROFILES)
    assert str(caught.value) == told


def test_a_fault_that_was_there_before_does_not_stand_in_the_way() -> None:
    broken = Show.model_validate(show_data(rig={"fixtures": [fixture_data(profile="lost")]}, cues=[]))
    assert apply_edit(broken, Rename(name="Later"), PROFILES).name == "Later"
    fixed = Fixture.model_validate(fixture_data())
    assert check_show(apply_edit(broken, PutFixture(fixture=fixed), PROFILES), PROFILES) == []


def test_a_look_is_stored_into_a_cue_old_or_new() -> None:
    look = {"window": Light(level=0.02, white=White(cct_k=5600, duv=0.003))}
    old = store_look(SHOW, "1", None, look)
    assert old.cues[0] == SHOW.cues[0].model_copy(update={"look": look})
    new = store_look(SHOW, "1.1", "Darker", look)
    assert [(cue.number, cue.name) for cue in new.cues] == [("1", ""), ("1.1", "Darker"), ("2", "")]
    assert new.cues[1].look == look


def test_a_new_cue_of_one_digit_gets_it_as_its_shortcut_where_it_is_free() -> None:
    look = {"window": Light(level=0.2)}
    fresh = store_look(Show(name="New", rig=SHOW.rig), "7", None, look)
    assert [(cue.number, cue.shortcut) for cue in fresh.cues] == [("7", "7")]
    taken = fresh.model_copy(update={"cues": (fresh.cues[0].model_copy(update={"shortcut": "8"}),)})
    assert [cue.shortcut for cue in store_look(taken, "8", None, look).cues] == ["8", None]
    assert store_look(taken, "12", None, look).cues[-1].shortcut is None
    assert store_look(fresh, "7", "Again", look).cues[0].shortcut == "7"


def test_a_look_of_a_fixture_that_is_not_there_is_not_stored() -> None:
    with pytest.raises(Refused, match="The rig has no fixture lmp; perhaps lamp was meant"):
        store_look(SHOW, "1", None, {"lmp": Light(level=1.0)})


@settings(max_examples=40, deadline=None, derandomize=True)
@given(shows())
def test_what_is_put_is_there_and_what_is_removed_is_gone(show: Show) -> None:
    for cue in show.cues:
        assert apply_edit(show, PutCue(cue=cue), PROFILES) == show
        without = apply_edit(show, RemoveCue(number=cue.number), PROFILES)
        assert apply_edit(without, PutCue(cue=cue), PROFILES) == show
    for fixture in show.rig.fixtures:
        less = apply_edit(show, RemoveFixture(id=fixture.id), PROFILES)
        assert less.fixture(fixture.id) is None
        assert all(fixture.id not in cue.look for cue in less.cues)
        assert len(less.rig.fixtures) == len(show.rig.fixtures) - 1


PREDICTED = Predicted(
    id="0123456789abcdef",
    reference="ref.jpg",
    regions=(PredictedRegion(name="face", stops=-0.3, delta_e=2.0),),
)


def matched() -> Show:
    """The show with a cue 7 that a match found."""
    cue = Cue(number="7", look={"lamp": Light(level=0.3)}, predicted=PREDICTED)
    return apply_edit(SHOW, PutCue(cue=cue), PROFILES)


def predicted(show: Show) -> Predicted | None:
    cue = show.cue("7")
    assert cue is not None
    return cue.predicted


def test_what_a_match_predicted_goes_with_the_look_it_was_of() -> None:
    show = matched()
    cue = show.cue("7")
    assert cue is not None
    assert predicted(show) == PREDICTED
    assert (
        predicted(apply_edit(show, PutCue(cue=cue.model_copy(update={"name": "Dawn"})), PROFILES))
        == PREDICTED
    )
    assert predicted(apply_edit(show, RenameFixture(id="lamp", to="bulb"), PROFILES)) == PREDICTED
    assert predicted(store_look(show, "7", None, {"lamp": Light(level=0.5)})) is None
    brighter = cue.model_copy(update={"look": {"lamp": Light(level=0.5)}})
    assert predicted(apply_edit(show, PutCue(cue=brighter), PROFILES)) is None
    assert predicted(apply_edit(show, RemoveFixture(id="lamp"), PROFILES)) is None
    again = brighter.model_copy(update={"predicted": PREDICTED.model_copy(update={"delta_e": 0.4})})
    assert predicted(apply_edit(show, PutCue(cue=again), PROFILES)) == again.predicted
