"""Plan: things stand where their places say, and move with the arrow keys as one change."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from onecrew.commands.camera import SetCamera
from onecrew.commands.light import SetLight
from onecrew.commands.rig import PutFixture
from onecrew.commands.room import SetRoom
from onecrew.commands.running import Blackout
from onecrew.commands.session import Redo, Undo
from onecrew.commands.set_pieces import PutSetPiece, RemoveSetPiece
from onecrew.plan.now import forecast_now
from onecrew.playback.laws import law_of, output_of
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Place, SetPiece, Show
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.listing import Listing
from onecrew.tui.drawing.light_map import LEGEND, shade
from onecrew.tui.drawing.plan import arrow
from onecrew.tui.plan import pieces
from onecrew.tui.plan.layout import PlanBody
from onecrew.tui.plan.screen import Plan
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

WINDOW = bakery.show().rig.fixtures[0]


def screen(d: Desk) -> Plan:
    assert isinstance(d.app.base_screen, Plan)
    return d.app.base_screen


def placed(**fields: Any) -> PutFixture:
    assert WINDOW.place is not None
    return PutFixture(fixture=WINDOW.model_copy(update={"place": WINDOW.place.model_copy(update=fields)}))


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (140, 45), (200, 60)])
@drive
async def test_everything_in_the_room_is_named(size: tuple[int, int]) -> None:
    async with desk(mode="plan", size=size) as d:
        text = d.text()
        for name in ("hood", "lamp", "oven", "street", "sky", "fridge", "sacks", "counter", "camera", "1 m"):
            assert name in text, f"{name} at {size}"


@drive
async def test_above_is_above_and_left_is_left() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        rows = d.picture()
        at = {name: _find(rows, f" {name}") for name in ("fridge", "sky", "oven", "street", "camera")}
        assert at["fridge"][1] < at["street"][1] < at["oven"][1] < at["sky"][1] < at["camera"][1]
        assert at["sky"][0] < at["fridge"][0] < at["camera"][0] < at["street"][0] < at["oven"][0] + 5


def _find(rows: list[str], text: str) -> tuple[int, int]:
    y = next(y for y, row in enumerate(rows) if text in row[:110])
    return rows[y].index(text), y


@pytest.mark.parametrize(
    ("keys", "fields"),
    [
        (["up", "up"], {"y_m": 3.6}),
        (["down"], {"y_m": 3.3}),
        (["left", "left", "left"], {"x_m": 0.3}),
        (["right"], {"x_m": 0.7}),
        (["right", "up", "shift+right"], {"x_m": 0.7, "y_m": 3.5, "aim_deg": 150}),
        (["shift+left"], {"aim_deg": 120}),
        (["plus"], {"height_m": 2.2}),
        (["minus", "minus"], {"height_m": 1.9}),
        (["ctrl+left"], {"x_m": 0.1}),
        (["ctrl+right", "ctrl+up"], {"x_m": 3.9, "y_m": 3.9}),
        (["shift+down"], {"tilt_deg": -20.0}),  # from where it is taken to be: at the face
        (["shift+down", "shift+up", "shift+up"], {"tilt_deg": -10.0}),
        (["left"] * 9, {"x_m": -0.3}),  # at the wall, 0.1 m, the fifth step ends; the next ones lead on
    ],
)
@drive
async def test_a_move_is_one_change_of_the_show(keys: list[str], fields: dict[str, Any]) -> None:
    async with desk(mode="plan") as d:
        await d.press(*keys)
        assert d.sent == [], "nothing is sent while it moves"
        screen(d).send_moves()
        await d.settle()
        assert d.sent == [placed(**fields)]


@drive
async def test_selecting_another_thing_sends_the_move() -> None:
    async with desk(mode="plan") as d:
        await d.press("right", "tab")
        assert d.sent == [placed(x_m=0.7)]


@drive
async def test_leaving_the_screen_sends_the_move() -> None:
    async with desk(mode="plan") as d:
        await d.press("right", "f2")
        assert d.sent == [placed(x_m=0.7)]


@drive
async def test_a_move_there_and_back_changes_nothing() -> None:
    async with desk(mode="plan") as d:
        await d.press("right", "left", "tab")
        assert d.sent == []


@drive
async def test_the_camera_and_a_set_piece_move_too() -> None:
    async with desk(mode="plan") as d:
        await d.press("shift+tab", "up", "shift+tab", "right", "shift+tab")
        camera, piece = d.sent
        assert isinstance(camera, SetCamera) and camera.camera.place is not None
        assert camera.camera.place.y_m == pytest.approx(0.4)
        assert piece == PutSetPiece(
            set_piece=SetPiece(id="counter", kind="subject", place=Place(x_m=2.1, y_m=1.8))
        )


@drive
async def test_set_pieces_come_and_go() -> None:
    async with desk(mode="plan") as d:
        await d.press("a", *"wall", "space", *"black", "enter")
        assert d.sent == [PutSetPiece(set_piece=SetPiece(id="wall", kind="black", place=Place(x_m=2, y_m=2)))]
        await d.press(*["tab"] * 6, "x")
        assert d.sent[-1] == RemoveSetPiece(id="sacks")
        added = d.sent[0].set_piece
        show = bakery.show()
        rig = show.rig.model_copy(update={"set_pieces": (*show.rig.set_pieces, added)})
        d.client.show = show.model_copy(update={"rig": rig})
        await d.change(revision=99)
        chosen = screen(d).thing()
        assert chosen is not None and chosen.id == "wall", "what was just made is selected"


@drive
async def test_a_new_set_piece_takes_no_name_that_is_there() -> None:
    """It would have become another thing, in the middle of the room."""
    async with desk(mode="plan") as d:
        await d.press("a", *"sacks", "space", *"wall", "enter")
        assert "there is a set piece sacks already" in d.page() and d.sent == []
        await d.press(*["backspace"] * 10, *"sacks-2", "space", *"wall", "enter")
        assert [command.set_piece.id for command in d.sent] == ["sacks-2"]


@drive
async def test_lamps_are_not_taken_out_here() -> None:
    async with desk(mode="plan") as d:
        await d.press("x")
        assert d.sent == [] and "lamps on Rig, F4" in d.text()


@drive
async def test_other_keys() -> None:
    async with desk(mode="plan") as d:
        await d.press("u", "U", "b", "full_stop")
        assert d.sent == [Undo(), Redo(), Blackout(), Blackout()]


@drive
async def test_a_lamp_without_a_place_says_so_and_gets_one() -> None:
    show = bakery.show()
    bare = WINDOW.model_copy(update={"place": None})
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": (bare,)})})
    async with desk(FakeClient(show, bakery.snapshot()), mode="plan") as d:
        assert "no place yet" in d.text()
        await d.press("up", "tab")
        assert d.sent[0].fixture.place is not None


@drive
async def test_an_empty_show_has_its_camera() -> None:
    async with desk(FakeClient(Show(name="New"), bakery.snapshot(lights={})), mode="plan") as d:
        assert "camera" in d.text()


@pytest.mark.parametrize(
    ("aim", "sign"), [(0, "↑"), (44, "↗"), (90, "→"), (135, "↘"), (180, "↓"), (359, "↑")]
)
def test_arrows_turn_clockwise_from_the_top(aim: float, sign: str) -> None:
    assert arrow(aim) == sign


@drive
async def test_a_set_piece_becomes_something_else() -> None:
    flag = next(piece for piece in bakery.show().rig.set_pieces if piece.id == "sacks")
    async with desk(mode="plan") as d:
        await d.press(*["tab"] * 6, "enter", *"reflector", "tab", *"1.2x2'", "tab", *"40%", "tab")
        await d.press(*"soft", "enter")
        fields = {"kind": "reflector", "note": "soft", "width_m": 1.2, "height_m": 0.6096, "reflectance": 0.4}
        assert d.sent == [PutSetPiece(set_piece=flag.model_copy(update=fields))]


@drive
async def test_a_lamp_is_not_changed_on_the_plan() -> None:
    async with desk(mode="plan") as d:
        await d.press("enter")
        assert d.sent == [] and "Only set pieces are changed here" in d.text()


@drive
async def test_enter_on_the_camera_opens_its_settings() -> None:
    async with desk(mode="plan") as d:
        await d.press("shift+tab", "enter", *["tab"] * 6, "2", "enter")
        assert d.sent == [SetCamera(camera=bakery.show().camera.model_copy(update={"nd_stops": 2.0}))]


@drive
async def test_moving_a_lamp_forecasts_the_reading_and_the_change_since_the_start_of_the_move() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        assert "at counter:" not in d.text()
        await d.press("down", "down", "down")
        await d.until(lambda: "at counter:" in d.text())
        await d.until(lambda: "hood" in d.text() and " st" in d.text())
        [before], [now] = screen(d).reading.before, screen(d).reading.now
        was, moved = (next(lamp for lamp in read.lamps if lamp.id == "hood") for read in (before, now))
        assert moved.distance_m < was.distance_m
        assert moved.full_lux > was.full_lux  # nearer, and turned as before
        assert f"hood {moved.lamp_lux:.3g} lx" in d.page()
        assert "key : fill" in d.text() or "lit : shadow" in d.text()


@drive
async def test_readings_come_without_a_move_too() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        await d.press("y")
        await d.until(lambda: "at counter:" in d.text())
        assert d.sent == []


@drive
async def test_the_help_names_each_key_and_the_footer_those_of_a_group() -> None:
    async with desk(mode="plan", size=(140, 45)) as d:
        assert "← ↑ ↓ → move" in d.text() and "+ - height" in d.text()
        await d.press("f1")
        await d.until(lambda: "← Move it 10 cm to the left" in d.page())
        assert "+ Raise it by 10 cm" in d.page() and "→ Move it 10 cm to the left" not in d.page()


@drive
async def test_where_no_lamp_has_a_place_there_is_nothing_to_read_and_it_says_so() -> None:
    show = bakery.show()
    bare = tuple(one.model_copy(update={"place": None}) for one in show.rig.fixtures)
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": bare})})
    async with desk(FakeClient(show, bakery.snapshot()), mode="plan") as d:
        await d.press("y")
        await d.until(lambda: "No lamp has a place yet" in d.page())


@drive
async def test_a_place_is_typed_in_metres_or_feet() -> None:
    async with desk(mode="plan") as d:
        await d.press("j", *["backspace"] * 30, *"2", "space", *"6'", "space", "-", "space", *"90", "enter")
        [sent] = d.sent
        assert isinstance(sent, PutFixture)
        assert sent.fixture.place == Place(x_m=2.0, y_m=6 * 0.3048, aim_deg=90.0)
        await d.press("j", *["backspace"] * 30, *"far", "enter")
        assert len(d.sent) == 1


@drive
async def test_the_room_is_typed() -> None:
    async with desk(mode="plan") as d:
        await d.press("W", *"5x4x2.5", "space", *"walls=dark", "enter")
        [sent] = d.sent
        assert isinstance(sent, SetRoom)
        assert (sent.room.width_m, sent.room.height_m, sent.room.walls) == (5.0, 2.5, "dark")


@drive
async def test_the_map_shades_the_floor_by_stops_and_says_so() -> None:
    """Every figure on it is the forecast's own at that place."""
    async with desk(mode="plan", size=(140, 45)) as d:
        await d.press("Z")
        await d.until(lambda: "· −5" in d.text())
        shown = screen(d).light()
        assert shown is not None
        light, nominal, _ = shown
        drawing = screen(d).query_one(PlanBody)._drawing
        assert drawing is not None
        figures = 0
        for row, text in enumerate(d.picture()[2:-2], 1):
            for found in re.finditer(r" ([+−][0-9.]+) ", text[: 140 - 28]):
                x_m, y_m = drawing.frame.metres(found.start() + 2, row)
                stops = math.log2(light.at(x_m, y_m) / nominal)
                assert float(found[1].replace("−", "-")) == pytest.approx(stops, abs=0.051)
                figures += 1
        assert figures > 8
        await d.press("Z")
        assert "· −5" not in d.text()


@pytest.mark.parametrize(
    ("stops", "sign"), [(1.0, "█"), (0.0, "█"), (-0.1, "▓"), (-2.0, "▒"), (-4.9, "·"), (-9.0, " ")]
)
def test_each_stop_has_its_shade(stops: float, sign: str) -> None:
    assert shade(stops) == sign
    assert stops < -5 or sign in LEGEND


@drive
async def test_the_reading_wanted_gives_levels_that_give_that_reading() -> None:
    """Asked for a third of a stop over the notes: the levels offered are sent, and by them it reads so."""
    async with desk(mode="plan", size=(140, 45)) as d:
        await d.press("X", *"key", "space", *"+0.3", "enter")
        await d.until(lambda: isinstance(d.app.screen, Listing))
        await d.press("enter")
        [sent] = d.sent
        assert isinstance(sent, SetLight) and sent.fixtures == ("hood",) and sent.level is not None
        show, lights = bakery.show(), dict(bakery.snapshot().lights)
        law = law_of(load_profiles()["panel-cct-tint"])
        output = float(output_of(np.array([sent.level]), law)[0])
        lights["hood"] = lights["hood"].model_copy(update={"output": output})
        [found] = forecast_now(show, load_profiles(), lights)
        assert found.key_stops == pytest.approx(0.3, abs=0.01)


@drive
async def test_a_typed_place_of_a_new_piece_is_kept() -> None:
    async with desk(mode="plan") as d:
        await d.press("a", *"double", "space", *"subject", "space", *"at=1,3,1.5,90", "enter")
        [sent] = d.sent
        assert isinstance(sent, PutSetPiece)
        assert sent.set_piece.place == Place(x_m=1, y_m=3, height_m=1.5, aim_deg=90)


@drive
async def test_the_dialogs_of_a_set_piece_fit_a_window_of_forty_by_twelve() -> None:
    async with desk(mode="plan", size=(40, 12)) as d:
        screen = d.app.base_screen
        assert isinstance(screen, BaseScreen)
        pieces.ask_edit(screen, "sacks")
        await d.settle()
        await d.press(*"a=b", "enter")
        await d.until(lambda: "kind 'a=b' has a =, which no kind has" in d.page())
        await d.press("escape")
        await d.press("a")
        await d.press(*"lonely")
        await d.until(lambda: "lonely" in d.page())
        await d.press("enter")
        await d.until(lambda: "✗" in d.page())
