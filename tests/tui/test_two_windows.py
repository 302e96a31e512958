"""A form that is open while another window changes the same thing: neither loses what the other did."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.commands.cues import PutCue
from onecrew.commands.rig import PutFixture, SetCamera
from onecrew.commands.wires import SetOutput, SetRemote
from onecrew.show.light import Light
from onecrew.show.show import Fixture, Osc, Output, Place, Reading, Remote, Rig, Sacn, SacnUniverse, Show
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
