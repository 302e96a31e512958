"""From documents to a stage: what is missing is assumed, what makes no sense is fixed, both are named."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from onecrew.plan import saying
from onecrew.plan.forecast import Forecast, forecast, forecasts
from onecrew.plan.lamp import Lamp, guessed, lamp_of
from onecrew.plan.light_map import light_map
from onecrew.plan.stage import Stage, stage_of
from onecrew.show.photometry import Metered, Photometry, Room
from onecrew.show.show import Camera, Fixture, Modifier, Place, SetPiece
from tests.plan.moving import move
from tests.show.shows import PROFILES

PANEL = Photometry(lux_at_1m=1000.0, beam_deg=110.0, width_m=0.3, height_m=0.3)
DARK = Room(width_m=6.0, depth_m=6.0, height_m=3.0, walls=0.0, ceiling=0.0, floor=0.0)
CAMERA = Camera(iso=800, shutter_s=1 / 48, aperture=2.8, place=Place(x_m=3.0, y_m=0.5, height_m=1.5))
FACE = SetPiece(id="baker", kind="subject", place=Place(x_m=3.0, y_m=4.0, height_m=1.5))


def lamp(name: str = "hood", role: str = "key", *, gives: Photometry = PANEL, known: bool = True,
         output: float = 1.0, **place: Any) -> Lamp:  # fmt: skip
    told = {"x_m": 3.0, "y_m": 2.0, "height_m": 1.5, "aim_deg": 0.0, "tilt_deg": 0.0, **place}
    fixture = Fixture.model_validate(
        {"id": name, "profile": "p", "mode": "m", "universe": 1, "address": 1, "role": role, "place": told}
    )
    return Lamp(fixture, output, gives, known)


def changed(told: Lamp, **fields: Any) -> Lamp:
    return Lamp(told.fixture.model_copy(update=fields), told.output, told.gives, told.known)


def staged(*lamps: Lamp, room: Room = DARK, pieces: tuple[SetPiece, ...] = (FACE,)) -> Stage:
    return stage_of(lamps, pieces, CAMERA, room)


def read(*lamps: Lamp, room: Room = DARK, pieces: tuple[SetPiece, ...] = (FACE,)) -> Forecast:
    return forecast(staged(*lamps, room=room, pieces=pieces), CAMERA)


def test_a_lamp_reads_at_one_metre_what_its_profile_says() -> None:
    found = read(lamp(y_m=3.0))
    assert found.lamps[0].lamp_lux == pytest.approx(1000.0, rel=1e-6)
    assert found.key_lux == pytest.approx(1000.0, rel=1e-6)
    assert (found.assumed, found.doubts, found.missing) == (("baker faces the camera",), (), ())


def test_each_lamp_is_read_with_the_meter_facing_that_lamp() -> None:
    """A meter that faces one lamp reads it as if it hung alone (own reasoning: light adds up)."""
    lamps = (
        lamp(),
        lamp("side", "fill", x_m=1.0, y_m=4.0, aim_deg=90.0),
        lamp("back", "edge", y_m=5.5, aim_deg=180.0),
    )
    together = {one.id: one.lamp_lux for one in read(*lamps).lamps}
    for one in lamps:
        assert (
            together[one.fixture.id] == pytest.approx(read(one).lamps[0].lamp_lux)
            and together[one.fixture.id] > 50.0
        )


def test_stops_are_against_the_camera_notes() -> None:
    """ISO 2720: f/2.8, 1/48 s, ISO 800 and C 250 call for 117.6 lx."""
    found = read(lamp(y_m=3.0))
    assert found.nominal_lux == pytest.approx(117.6, abs=0.1)
    assert found.key_stops == pytest.approx(math.log2(1000 / 117.6), abs=1e-3)


def test_output_and_modifiers_take_light_by_their_stops() -> None:
    full = read(lamp()).key_lux
    assert read(lamp(output=0.25)).key_lux == pytest.approx(full / 4)
    grid = changed(lamp(), modifiers=(Modifier(kind="grid", stops=1.5), Modifier(kind="gel", stops=0.5)))
    assert read(grid).key_lux == pytest.approx(full / 4)


def test_a_softbox_is_the_source_from_then_on() -> None:
    """Own arithmetic: flux left over a diffuse square, E = Φ F / A with the catalogue's F (1 m square)."""
    lumens = Photometry(lumens=1000.0, beam_deg=30.0)
    box = changed(
        lamp(gives=lumens, y_m=3.0),
        modifiers=(Modifier(kind="softbox", stops=1.0, width_m=1.0, height_m=1.0),),
    )
    assert read(box).key_lux == pytest.approx(500.0 * 0.239456, rel=1e-3)
    before = changed(
        lamp(gives=lumens, y_m=2.5),
        modifiers=(Modifier(kind="softbox", stops=1.0, width_m=1.0, height_m=1.0, distance_m=0.5),),
    )
    assert read(before).key_lux == pytest.approx(500.0 * 0.239456, rel=1e-3)


def test_a_bounce_board_before_the_lamp_shines_at_the_subject() -> None:
    lumens = Photometry(lumens=1000.0, beam_deg=30.0)
    board = Modifier(kind="reflector", stops=1.0, width_m=1.0, height_m=1.0, distance_m=1.0)
    away = changed(lamp(gives=lumens, x_m=2.0, y_m=3.0, aim_deg=90.0), modifiers=(board,))
    assert read(away).key_lux == pytest.approx(
        500.0 * 0.239456, rel=1e-3
    )  # the board stands a metre before the face


def test_a_grid_narrows_the_beam_and_keeps_the_axis() -> None:
    grid = changed(lamp(), modifiers=(Modifier(kind="grid", stops=1.0, beam_deg=40.0),))
    aside = changed(lamp(aim_deg=40.0), modifiers=grid.fixture.modifiers)
    assert read(grid).key_lux == pytest.approx(read(lamp()).key_lux / 2, rel=0.02)
    assert read(aside).key_lux < 0.2 * read(lamp(aim_deg=40.0)).key_lux


def test_inverse_square_makes_a_step_back_cost_stops() -> None:
    found = read(lamp(y_m=2.0, gives=Photometry(candela=1000.0)))
    back = next(step for step in found.steps if step.way == "one step back")
    assert back.stops == pytest.approx(-2 * math.log2(2.7 / 2.0), abs=1e-3)
    assert {step.way for step in found.steps} == {
        f"one step {w}" for w in ("back", "forward", "to its left", "to its right")
    }


def test_key_to_fill_is_read_lamp_by_lamp() -> None:
    fill = lamp("sky", "fill", y_m=2.0, output=0.25)
    found = read(lamp(), fill)
    assert (found.key, found.fill) == (("hood",), ("sky",))
    assert found.ratio == pytest.approx(4.0, rel=1e-6)
    by_name = {each.id: each for each in found.lamps}
    assert by_name["sky"].to_key == pytest.approx(-2.0, abs=1e-6)
    assert sum(each.share for each in found.lamps) == pytest.approx(1.0)
    assert found.camera_lux == pytest.approx(sum(each.camera_lux for each in found.lamps))


SPOT = Photometry(candela=1000.0)


@pytest.mark.parametrize("role", ["fill", "ambience"])
def test_a_fill_is_read_facing_the_camera(role: str) -> None:
    """Own arithmetic: both 1000 cd at 2 m, 250 lx; the fill comes from 60° off the lens, which halves it."""
    fill = lamp("sky", role, gives=SPOT, x_m=3.0 + math.sqrt(3.0), y_m=3.0, aim_deg=300.0)
    found = read(lamp(gives=SPOT), fill)
    assert found.fill_lux == pytest.approx(125.0, rel=1e-3)
    assert found.ratio == pytest.approx(2.0, rel=1e-3)


def test_the_right_of_a_subject_is_its_own_right() -> None:
    """It faces the camera, down the plan, and so its right is left on the plan: here towards the lamp."""
    found = read(lamp(gives=SPOT, x_m=1.0, y_m=4.0, aim_deg=90.0))
    steps = {step.way: step.stops for step in found.steps}
    assert steps["one step to its right"] == pytest.approx(2 * math.log2(2.0 / 1.3), abs=1e-3)
    assert steps["one step to its left"] == pytest.approx(2 * math.log2(2.0 / 2.7), abs=1e-3)


def test_steps_under_two_keys_are_the_same_whichever_is_listed_first() -> None:
    """With both read facing the one that gives most (own reasoning)."""
    keys = lamp(), lamp("strong", x_m=1.0, y_m=4.0, aim_deg=90.0, output=0.8)
    one, other = read(*keys), read(*reversed(keys))
    assert one.key_lux == pytest.approx(other.key_lux)
    assert [step.stops for step in one.steps] == pytest.approx([step.stops for step in other.steps])


def test_cheeks_are_45_degrees_to_either_side() -> None:
    """Cosine law: from 30° off the way the face looks, cos 15° on one cheek and cos 75° on the other."""
    found = read(lamp(gives=SPOT, x_m=2.0, y_m=4.0 - math.sqrt(3.0), aim_deg=30.0))
    ratio = math.cos(math.radians(15.0)) / math.cos(math.radians(75.0))
    assert found.contrast == pytest.approx(ratio, rel=1e-3)


def test_a_side_light_makes_one_cheek_dark() -> None:
    found = read(lamp(x_m=1.0, y_m=3.4, aim_deg=73.0), room=DARK.model_copy(update={"walls": 0.3}))
    assert found.contrast is not None
    assert found.contrast > 4


def test_without_a_key_the_strongest_lamp_counts_as_one() -> None:
    found = read(lamp("sky", "ambience", output=0.1), lamp("oven", "effect"))
    assert found.key == ("oven",)
    assert any("the strongest lamp, counts as key" in said for said in found.assumed)


def test_a_lamp_without_photometry_makes_the_forecast_relative() -> None:
    found = read(lamp(), lamp("van", "edge", known=False))
    assert not found.absolute
    assert found.missing == ("van",)
    assert all(each.to_key is not None for each in found.lamps)
    assert read(lamp(), lamp("van", "edge", known=False, output=0.0)).absolute  # it is out and gives nothing


def test_what_is_missing_is_assumed_and_named() -> None:
    bare = lamp(height_m=None, aim_deg=None, tilt_deg=None, x_m=1.0, y_m=1.0)
    here = SetPiece(id="baker", kind="subject", place=Place(x_m=2.0, y_m=2.0))
    camera = Camera(place=Place(x_m=2.0, y_m=0.2))
    found = forecast(stage_of([bare], [here], camera, Room()), camera)
    said = "\n".join(found.assumed)
    for words in (
        "the room is 4.0 m × 4.0 m × 2.5 m",
        "walls mid (40 %), ceiling white (80 %), floor dark (10 %)",
        "the lens is 1.4 m high",
        "the face of baker is 1.6 m high",
        "baker faces the camera",
        "hood is 2.0 m high",
        "hood aims at the subject",
        "hood is tilted at the height of the face (−16°)",
    ):
        assert words in said


def test_a_lamp_turned_away_is_not_tilted_at_the_subject() -> None:
    found = read(lamp(aim_deg=180.0, tilt_deg=None, height_m=2.0))
    assert "hood is tilted level (+0°)" in found.assumed


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ({"x_m": 7.5}, "hood stands 1.5 m outside the room"),
        ({"x_m": 6.01}, "hood stands in a wall"),
        ({"height_m": 4.0}, "hood stands 1.0 m outside the room"),
        ({"x_m": 3.0, "y_m": 4.0}, "hood stands on baker: it is read as 0.1 m away"),
    ],
)
def test_a_place_that_makes_no_sense_is_named_and_read_all_the_same(place: dict[str, Any], said: str) -> None:
    found = read(lamp(**place))
    assert any(said in doubt for doubt in found.doubts), found.doubts
    assert math.isfinite(found.key_lux)


def test_a_place_off_the_room_is_named() -> None:
    there = staged(lamp())
    assert any("outside the room" in doubt for doubt in forecast(there, CAMERA, (9.0, 1.0, 1.5)).doubts)


def test_a_room_that_sends_everything_back_stays_finite() -> None:
    found = read(lamp(), room=Room(width_m=3.0, depth_m=5.0, height_m=2.5, walls=1.0, ceiling=1.0, floor=1.0))
    assert math.isfinite(found.camera_lux)


def test_no_lamp_at_all_is_a_forecast_too() -> None:
    found = forecast(staged(), CAMERA)
    assert (found.lamps, found.camera_lux, found.key) == ((), 0.0, ())


def test_furniture_of_known_size_hides_and_of_unknown_size_may() -> None:
    table = SetPiece(
        id="shelf", kind="shelf", place=Place(x_m=3.0, y_m=3.0, height_m=2.2), width_m=1.0, depth_m=0.3
    )
    hidden = read(lamp(), pieces=(FACE, table))
    assert "shelf may block it" in hidden.lamps[0].blocked
    assert hidden.lamps[0].lamp_lux < 1e-6
    vague = read(lamp(), pieces=(FACE, table.model_copy(update={"width_m": None, "depth_m": None})))
    assert vague.lamps[0].blocked == "may be blocked by shelf"
    assert vague.lamps[0].lamp_lux == pytest.approx(read(lamp()).lamps[0].lamp_lux)
    behind = table.model_copy(
        update={"place": Place(x_m=3.0, y_m=1.0, height_m=2.2), "width_m": None, "depth_m": None}
    )
    assert read(lamp(), pieces=(FACE, behind)).lamps[0].blocked == ""
    low = table.model_copy(update={"place": Place(x_m=3.0, y_m=3.0, height_m=0.9), "width_m": None})
    assert read(lamp(), pieces=(FACE, low)).lamps[0].blocked == ""


def test_a_lamp_inside_furniture_is_named_and_not_hidden() -> None:
    oven = SetPiece(
        id="oven-box", kind="oven", place=Place(x_m=3.0, y_m=2.0, height_m=1.8), width_m=0.6, depth_m=0.6
    )
    found = read(lamp(), pieces=(FACE, oven))
    assert any("hood stands inside oven-box" in doubt for doubt in found.doubts)
    assert found.key_lux == pytest.approx(read(lamp()).key_lux, rel=0.01)


def test_walls_by_name_and_one_by_itself() -> None:
    dark = Room(width_m=4.0, depth_m=6.0, height_m=2.5, walls="dark", ceiling="dark", floor="dark")
    one = dark.model_copy(update={"left": "white"})
    spot = lamp(x_m=2.0, y_m=3.9, aim_deg=270.0, tilt_deg=0.0)
    here = FACE.model_copy(update={"place": Place(x_m=2.0, y_m=3.0, height_m=1.5, aim_deg=270.0)})
    assert (
        read(spot, room=one, pieces=(here,)).camera_lux > 2 * read(spot, room=dark, pieces=(here,)).camera_lux
    )


def metered(**figures: float) -> Fixture:
    return Fixture(
        id="lamp", profile="panel-bicolour", mode="16-bit", universe=1, address=1, role="key",
        meter=Metered.model_validate(figures),
        place=Place(x_m=3.0, y_m=3.0, height_m=1.5, aim_deg=0.0, tilt_deg=0.0),
    )  # fmt: skip


WARM = (0.4598, 0.4106)


def test_a_meter_reading_takes_the_place_of_the_profile_s_figure() -> None:
    bicolour = PROFILES["panel-bicolour"]
    found = read(lamp_of(metered(lux_at_1m=720.0, cct_k=2700.0), bicolour, 0.5, WARM))
    assert found.key_lux == pytest.approx(360.0, rel=1e-3)
    # Read at its most light, the warm row alone has 2400 of 5200 lumens.
    other = read(lamp_of(metered(lux_at_1m=720.0), bicolour, 1.0, WARM))
    assert other.key_lux == pytest.approx(720.0 * 2400 / 5200, rel=0.01)


def test_a_meter_reading_makes_a_lamp_without_photometry_known() -> None:
    bare = PROFILES["panel-bicolour"].model_copy(update={"photometry": None})
    found = read(lamp_of(metered(lux_at_1m=200.0), bare, 1.0, WARM))
    assert found.absolute
    assert found.key_lux == pytest.approx(200.0)


def test_a_moved_lamp_reads_as_if_it_had_always_stood_there() -> None:
    there = staged(lamp(), room=Room(width_m=6.0, depth_m=6.0, height_m=3.0))
    forecast(there, CAMERA)
    moved = Place(x_m=1.5, y_m=2.5, height_m=1.9, aim_deg=45.0, tilt_deg=-5.0)
    move(there, "hood", moved)
    new = lamp(x_m=1.5, y_m=2.5, height_m=1.9, aim_deg=45.0, tilt_deg=-5.0)
    fresh = read(new, room=Room(width_m=6.0, depth_m=6.0, height_m=3.0))
    assert forecast(there, CAMERA).key_lux == pytest.approx(fresh.key_lux)


def test_the_map_agrees_with_a_reading() -> None:
    there = staged(
        lamp(), room=Room(width_m=4.0, depth_m=5.0, height_m=2.5, walls="mid", ceiling="white", floor="mid")
    )
    light = light_map(there, 0.5, 1.5)
    x, y = light.x_m, light.y_m
    assert light.lux.shape == (len(y), len(x)) == (10, 8)
    read_there = forecast(there, CAMERA, (float(x[2]), float(y[6]), 1.5))
    assert light.lux[6, 2] == pytest.approx(read_there.camera_lux, rel=1e-6)
    assert light.at(x[2], y[6]) == pytest.approx(light.lux[6, 2])
    between = light.at((x[2] + x[3]) / 2, y[6])
    assert between == pytest.approx(math.sqrt(light.lux[6, 2] * light.lux[6, 3]))  # evenly in stops
    assert light.at(-1.0, 99.0) == pytest.approx(light.lux[-1, 0])  # past the grid its edge


def test_two_subjects_are_read_each_at_its_place_and_the_way_it_faces() -> None:
    """The same person as two characters: each reading is what it would be if that one stood alone."""
    lit = lamp()
    here, there = (
        SetPiece(id=name, kind="subject", place=Place(x_m=x, y_m=4.0, height_m=1.5, aim_deg=aim))
        for name, x, aim in (("one", 2.0, 180.0), ("other", 3.0, 270.0))
    )
    room = Room(
        width_m=4.0, depth_m=5.0, height_m=2.5, walls="mid", ceiling="white", floor="mid", units="feet"
    )
    both = forecasts(stage_of([lit], [here, there], CAMERA, room), CAMERA)
    assert [read.subject for read in both] == ["one", "other"]
    assert [read.facing_deg for read in both] == pytest.approx([180.0, 270.0])
    for read_there, piece in zip(both, (here, there), strict=True):
        [alone] = forecasts(stage_of([lit], [piece], CAMERA, room), CAMERA)
        assert read_there.camera_lux == pytest.approx(alone.camera_lux)
        assert read_there.contrast == pytest.approx(alone.contrast)
    assert saying.where(both[1]) == "other (9'10\", 13'1\", 4'11\")"  # 3.0, 4.0 and 1.5 m
    assert saying.row(both[0].lamps[0], "feet")[-1].endswith('"')


@pytest.mark.parametrize("profile", sorted(PROFILES))
def test_the_shipped_photometry_is_the_flux_of_the_emitters(profile: str) -> None:
    """Invented, but of one piece: lumens are the sum of the emitters' flux, most light, all at full."""
    found = PROFILES[profile]
    if found.photometry is None:
        pytest.skip("no photometry is shipped for it")
    assert found.photometry.lumens == pytest.approx(sum(each.flux for each in found.emitters.values()))


def test_a_colour_gives_the_share_of_the_light_that_its_mixing_leaves() -> None:
    fixture = lamp().fixture.model_copy(update={"profile": "panel-bicolour", "mode": "16-bit"})
    warm = lamp_of(fixture, PROFILES["panel-bicolour"], 1.0, (0.4598, 0.4106))
    assert warm.gives.lumens == pytest.approx(2400.0, rel=0.01)  # the warm row alone, by its flux
    assert guessed(PROFILES["panel-bicolour"]).lumens == pytest.approx(5200.0)


def test_a_figure_at_one_white_holds_at_that_white() -> None:
    stated = Photometry(lux_at_1m=1800.0, cct_k=2700.0, whites=((6500.0, 2200.0),), width_m=0.3, height_m=0.3)
    profile = PROFILES["panel-bicolour"].model_copy(update={"photometry": stated})
    fixture = lamp().fixture.model_copy(update={"profile": "panel-bicolour", "mode": "16-bit"})
    assert lamp_of(fixture, profile, 1.0, (0.4598, 0.4106)).gives.lux_at_1m == pytest.approx(1800.0, rel=0.02)
    assert lamp_of(fixture, profile, 1.0, (0.3132, 0.3252)).gives.lux_at_1m == pytest.approx(2200.0, rel=0.02)


def test_energy_goes_up_with_reflectance() -> None:
    lux = [
        read(
            lamp(), room=Room(width_m=4.0, depth_m=5.0, height_m=2.5, walls=share, ceiling=share, floor=share)
        ).camera_lux
        for share in np.linspace(0.0, 0.9, 4)
    ]
    assert lux == sorted(lux)
