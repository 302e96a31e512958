"""A form that is open while another window changes the same thing: neither loses what the other did."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import pytest

from onecrew.commands.camera import SetCamera
from onecrew.commands.cues import PutCue, RemoveCue
from onecrew.commands.network import SetOutput, SetRemote
from onecrew.commands.rig import PutFixture
from onecrew.commands.set_pieces import PutSetPiece
from onecrew.show.light import Light
from onecrew.show.show import (
    Cue,
    Fixture,
    Osc,
    Output,
    Place,
    Reading,
    Remote,
    Rig,
    Sacn,
    SacnUniverse,
    Scene,
    SetPiece,
    Show,
)
from onecrew.tui.plan.screen import Plan
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

READ = Reading(asked_cct_k=4300, measured_cct_k=4400, measured_duv=0.001, light=100)


def client() -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), dict(ANSWERS))


async def other_window(d: Desk, **fields: Any) -> Show:
    """Another window changes the show."""
    assert d.client.show is not None
    show = d.client.show.model_copy(update=fields)
    await d.tell(show)
    return show


@pytest.mark.parametrize("mode", ["shoot", "rig"])
@drive
async def test_the_look_that_another_window_stores_stays_when_a_cue_is_renamed(mode: str) -> None:
    async with desk(client(), mode=mode) as d:
        await d.press("number_sign", "e", *"Dusk")
        look = {"hood": Light(level=0.77)}
        cues = [
            cue.model_copy(update={"look": look, "note": "seen"}) if cue.number == "2" else cue
            for cue in bakery.show().cues
        ]
        await other_window(d, cues=tuple(cues))
        await d.press("enter")
        (command,) = d.sent
        assert isinstance(command, PutCue)
        assert (command.cue.name, command.cue.look, command.cue.note) == ("Dusk", look, "seen")


@drive
async def test_a_cue_that_another_window_deletes_is_not_made_anew_by_a_form() -> None:
    async with desk(client()) as d:
        await d.press("number_sign", "e", *"Dusk")
        await other_window(d, cues=tuple(cue for cue in bakery.show().cues if cue.number != "2"))
        await d.press("enter")
        assert d.sent == []
        await d.until(lambda: "cue 2 is not there any more" in d.page())


@drive
async def test_a_lamp_that_another_window_measures_and_moves_keeps_that() -> None:
    async with desk(client(), mode="rig") as d:
        lamp = bakery.show().rig.fixtures[d.app.cursor.at]
        await d.press("enter", "tab", "tab", "tab", "tab", "tab", "tab", "tab", "tab", *"hums")
        rig = bakery.show().rig
        there = Place(x_m=1.0, y_m=2.0)
        moved = lamp.model_copy(update={"calibration": (READ,), "place": there, "address": 300})
        fixtures = tuple(moved if one.id == lamp.id else one for one in rig.fixtures)
        await other_window(d, rig=Rig(fixtures=fixtures, set_pieces=rig.set_pieces))
        await d.press("enter")
        assert d.sent == [PutFixture(fixture=moved.model_copy(update={"note": f"{lamp.note}hums"}))]


@drive
async def test_the_outputs_the_remotes_and_the_camera_are_changed_by_what_was_typed_alone() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("p", *"127.0.0.9")
        sacn = Sacn(universes={"2": SacnUniverse(to=("127.0.0.2",))}, priority=120)
        await other_window(d, output=Output(sacn=sacn))
        await d.press("enter")
        (command,) = d.sent
        assert isinstance(command, SetOutput)
        assert command.output.sacn.priority == 120
        assert command.output.sacn.universes["2"].to == ("127.0.0.2",)
        assert command.output.sacn.universes["1"].to[-1].endswith("127.0.0.9")

        d.sent.clear()
        await d.press("L", "down", "down", "down", *"127.0.0.1:9080")
        await other_window(d, remote=Remote(osc=Osc(listen="127.0.0.1:9001")))
        await d.press("enter")
        (command,) = d.sent
        assert isinstance(command, SetRemote)
        assert command.remote.osc == Osc(listen="127.0.0.1:9001") and command.remote.page is not None

        d.sent.clear()
        await d.press("C", "down", "down", "down", "down", "down", "down", "down", "down", *"haze")
        camera = bakery.show().camera.model_copy(update={"iso": 3200, "place": Place(x_m=1.0, y_m=1.0)})
        await other_window(d, camera=camera)
        await d.press("enter")
        assert d.sent == [SetCamera(camera=camera.model_copy(update={"note": f"{camera.note}haze"}))]


@drive
async def test_a_name_and_an_address_that_another_window_takes_meanwhile_are_taken() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"bico", "enter")
        rig = bakery.show().rig
        theirs = Fixture(
            id="panel1", profile="panel-cct-tint", mode="8-bit", universe=2, address=1, role="key"
        )
        await other_window(d, rig=Rig(fixtures=(*rig.fixtures, theirs), set_pieces=rig.set_pieces))
        await d.press("enter")
        assert d.sent == []
        await d.until(lambda: "panel1 is taken: give it another name" in d.page())
        await d.press(*"b", "enter")
        (command,) = d.sent
        assert isinstance(command, PutFixture) and command.fixture.id == "b"


def renumbered(show: Show, **numbers: str) -> tuple[Cue, ...]:
    """The cues of a show, those of these numbers under others: ``_2="7"``."""
    return tuple(
        cue.model_copy(update={"number": numbers.get(f"_{cue.number}", cue.number)}) for cue in show.cues
    )


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ((), ("x",)),
        ((), ("enter",)),
        (("e", *"Dusk"), ("enter",)),
        (("c",), ("enter",)),
        (("l",), ("enter",)),
    ],
)
@drive
async def test_a_number_that_is_another_cues_by_now_is_not_taken_for_the_cue_that_was_listed(
    before: tuple[str, ...], after: tuple[str, ...]
) -> None:
    async with desk(client()) as d:
        await d.press("number_sign", "2", *before)
        await other_window(d, cues=renumbered(bakery.show(), _2="7", _3="2"))
        await d.press(*after)
        assert d.sent == []
        await d.until(lambda: "ue 2 is cue 7 by now" in d.page())


@drive
async def test_what_became_of_a_listed_cue_is_said() -> None:
    async with desk(client()) as d:
        cues = bakery.show().cues
        await d.press("number_sign", "2")
        other = cues[1].model_copy(update={"name": "Rain", "look": {"hood": Light(level=0.77)}})
        await other_window(d, cues=(cues[0], other, *cues[2:]))
        await d.press("x")
        await d.until(lambda: "Cue 2 is another one by now" in d.page())
        await d.press("number_sign", "2")
        scenes = (Scene(name="Yard", cues=(other,)),)
        await other_window(d, cues=(cues[0], *cues[2:]), other_scenes=scenes)
        await d.press("x")
        await d.until(lambda: "Cue 2 is in the scene Yard" in d.page())
        assert d.sent == []


@drive
async def test_a_cue_whose_light_another_window_changes_is_still_the_cue_that_was_listed() -> None:
    async with desk(client()) as d:
        cues = bakery.show().cues
        await d.press("number_sign", "2")
        other = cues[1].model_copy(update={"look": {"hood": Light(level=0.77)}})
        await other_window(d, cues=(cues[0], other, *cues[2:]))
        await d.press("x")
        assert d.sent == [RemoveCue(number="2")]


PIECE = SetPiece(id="cloth", kind="negative fill", place=Place(x_m=1.0, y_m=1.0), width_m=1.2, height_m=1.8)


@asynccontextmanager
async def on_cloth() -> AsyncIterator[Desk]:
    """Plan, with a set piece under the cursor."""
    start = client()
    assert start.show is not None
    rig = start.show.rig.model_copy(update={"set_pieces": (PIECE,)})
    start.show = start.show.model_copy(update={"rig": rig})
    async with desk(start, mode="plan") as d:
        screen = d.app.screen
        assert isinstance(screen, Plan)
        screen.choose_at(next(at for at, thing in enumerate(screen.things()) if thing.id == "cloth"))
        await d.settle()
        yield d


@pytest.mark.parametrize("keys", [("j", *"3 3"), ("enter", *"x"), ("right",)])
@drive
async def test_a_set_piece_that_another_window_deletes_is_neither_made_anew_nor_the_end_of_the_screens(
    keys: tuple[str, ...],
) -> None:
    async with on_cloth() as d:
        await d.press(*keys)
        await other_window(d, rig=bakery.show().rig.model_copy(update={"set_pieces": ()}))
        await d.press("enter")
        assert d.app.is_running and d.sent == []
        if len(keys) > 1:
            await d.until(lambda: "cloth is not there any more" in d.page())


@drive
async def test_a_set_piece_keeps_what_another_window_changes_of_it() -> None:
    async with on_cloth() as d:
        await d.press("enter", "tab", "tab", "tab", *"seen")
        theirs = PIECE.model_copy(update={"kind": "curtain", "place": Place(x_m=2.0, y_m=2.5)})
        await other_window(d, rig=bakery.show().rig.model_copy(update={"set_pieces": (theirs,)}))
        await d.press("enter")
        assert d.sent == [PutSetPiece(set_piece=theirs.model_copy(update={"note": "seen"}))]


@pytest.mark.parametrize(
    ("mode", "keys"),
    [
        ("plan", ("j", *"3 3", "enter")),
        ("plan", ("W", *"4x5", "enter")),
        ("plan", ("a", *"board bounce", "enter")),
        ("rig", ("enter", *"fill", "enter")),
        ("rig", ("C", *"1", "enter")),
        ("light", ("f9", "e", *"x", "enter")),
    ],
)
@drive
async def test_what_is_typed_about_one_scene_never_changes_another_that_a_second_window_opens(
    mode: str, keys: tuple[str, ...]
) -> None:
    async with desk(client(), mode=mode) as d:
        await d.press(*keys[:-1])
        await other_window(d, scene="Yard")
        await d.press(keys[-1])
        assert d.sent == []
        await d.until(lambda: "the scene Yard is open by now" in d.page())
        await other_window(d, scene=bakery.show().scene)
        await d.press(keys[-1])
        assert len(d.sent) == 1


@drive
async def test_an_effect_is_given_to_the_lamps_that_were_asked_about() -> None:
    async with desk(client(), mode="light") as d:
        lamps = bakery.show().rig.fixtures
        await d.press("f")
        rig = bakery.show().rig.model_copy(update={"fixtures": lamps[1:]})
        await other_window(d, rig=rig)
        await d.press("enter")
        assert [command.fixtures for command in d.sent] == [(lamps[0].id,)]


@drive
async def test_kept_edits_of_another_cue_are_not_dropped_by_an_answer_about_this_one() -> None:
    async with desk(client(), mode="light") as d:
        await d.change(cue="2", kept_edits={"2": ("hood",), "3": ("sky",)})
        await d.press("K")
        await d.change(cue="3")
        await d.press("x")
        assert d.sent == []
        await d.until(lambda: "Cue 2 is not on any more" in d.page())


@drive
async def test_a_lamp_in_a_cue_of_another_scene_is_not_deleted_without_a_question() -> None:
    start = client()
    assert start.show is not None
    lamp = start.show.rig.fixtures[0].id
    yard = Scene(name="Yard", cues=(Cue(number="8", look={lamp: Light(level=0.5)}),))
    start.show = start.show.model_copy(update={"cues": (), "other_scenes": (yard,)})
    async with desk(start, mode="rig") as d:
        await d.press("x")
        assert d.sent == []
        await d.until(lambda: f"Delete {lamp}? It is in cue 8" in d.page())
