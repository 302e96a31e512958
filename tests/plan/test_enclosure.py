"""The room's bounce: closed-form factors, the integrating sphere's formula, nothing lost and nothing made.

Common-edge and opposed rectangles: Howell's catalogue C-14 and C-11 (numbers from memory; values computed
from their formulas). Closed box of one reflectance: E = Φ ρ / (A (1 − ρ)), the ideal integrating sphere,
whose derivation as a geometric series holds for the area mean of any closed room of one reflectance.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.plan.beam import Beam
from onecrew.plan.enclosure import SIDES, Enclosure, box_room
from onecrew.plan.factors import parallel, square
from onecrew.plan.pieces import Pieces
from onecrew.plan.source import Source
from onecrew.show.show import Place, SetPiece

CUBE = np.array([[0.0, 1.0, 0.0, 1.0]])


def test_factors_of_a_cube() -> None:
    assert parallel(CUBE, CUBE, 1.0)[0, 0] == pytest.approx(0.199825, abs=1e-6)
    assert square(CUBE, CUBE)[0, 0] == pytest.approx(0.200044, abs=1e-6)


def test_factors_of_rectangles_anywhere_agree_with_numeric_integration() -> None:
    one, other = (0.5, 1.2, 0.1, 0.6), (0.3, 0.9, 1.0, 2.0)
    n = 24

    def middles(low: float, high: float) -> np.ndarray:
        return low + (np.arange(n) + 0.5) / n * (high - low)

    x, y, u, v = np.meshgrid(
        middles(*one[:2]), middles(*one[2:]), middles(*other[:2]), middles(*other[2:]), indexing="ij"
    )
    areas = 0.7 * 0.5 * 0.6 * 1.0
    beside = (x * u / (np.pi * (x**2 + u**2 + (y - v) ** 2) ** 2)).mean() * areas
    assert square(np.array([one]), np.array([other]))[0, 0] == pytest.approx(beside, rel=1e-3)
    facing = (0.8**2 / (np.pi * ((x - u) ** 2 + (y - v) ** 2 + 0.8**2) ** 2)).mean() * areas
    assert parallel(np.array([one]), np.array([other]), 0.8)[0, 0] == pytest.approx(facing, rel=1e-3)


def test_the_walls_of_a_room_see_each_other_as_the_catalogue_says() -> None:
    room = Enclosure(box_room(4.0, 3.0, 2.5, [0.5] * 6))
    seen = {
        SIDES[wall]: room.factors[np.ix_(room.owner == 4, room.owner == wall)].sum(axis=1).mean()
        for wall in range(6)
    }
    assert seen["ceiling"] == pytest.approx(0.292074, abs=1e-6)
    assert seen["bottom"] == pytest.approx(0.203525, abs=1e-6)
    assert seen["left"] == pytest.approx(0.150438, abs=1e-6)
    assert seen["floor"] == 0.0


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_closed_box_of_one_reflectance_is_an_integrating_sphere(share: float) -> None:
    room = Enclosure(box_room(4.0, 3.0, 2.5, [share] * 6))
    straight = np.where(room.owner == 4, 1000 / 12, 0.0)  # 1000 lm, all on the floor
    indirect = float(room.response @ straight @ room.area / room.area.sum())
    assert indirect == pytest.approx(1000 * share / (59 * (1 - share)), rel=1e-9)


def test_rooms_of_unlike_surfaces_do_not_follow_that_formula() -> None:
    """Floor 0.2, ceiling 0.7, walls 0.5: with the mean reflectance it would be 15.6 lx, more than twice."""
    room = Enclosure(box_room(4.0, 3.0, 2.5, [0.5] * 4 + [0.2, 0.7]))
    straight = np.where(room.owner == 4, 1000 / 12, 0.0)
    indirect = room.response @ straight
    assert float(indirect @ room.area / room.area.sum()) == pytest.approx(6.89, rel=0.02)


sizes = st.floats(1.5, 8.0)
shares = st.floats(0.0, 0.95)


def pieces_of(draw_kind: str, x: float, y: float, aim: float, room: np.ndarray) -> Pieces:
    place = Place(x_m=x, y_m=y, height_m=0.9, aim_deg=aim)
    if draw_kind == "none":
        return Pieces((), None, room)
    kind = "negative fill" if draw_kind == "board" else "table"
    piece = SetPiece(id="it", kind=kind, place=place, width_m=0.8, height_m=0.7, depth_m=0.5, reflectance=0.3)
    return Pieces((piece,), None, room)


@settings(max_examples=12, deadline=None)
@given(
    sizes, sizes, st.floats(2.0, 4.0), st.lists(shares, min_size=6, max_size=6),
    st.sampled_from(["none", "board", "table"]), st.floats(0.05, 0.95), st.floats(0.05, 0.95),
    st.floats(0, 359), st.floats(20, 360),
)  # fmt: skip
def test_nothing_is_lost_or_made(
    width: float, depth: float, height: float, rho: list[float], kind: str, x: float, y: float, aim: float,
    beam: float,
) -> None:  # fmt: skip
    """Whatever the room: factors are shares, the exchange is the same both ways, what arrives is absorbed."""
    size = np.array([width, depth, height])
    pieces = pieces_of(kind, 0.5 * width, 0.4 * depth, aim, size)
    room = Enclosure(box_room(width, depth, height, rho), pieces.surfaces, pieces.blocks)
    rows = room.factors.sum(axis=1)
    assert (room.factors >= 0.0).all()
    assert rows.max() <= 1.0 + 1e-6
    if kind == "none":
        assert rows == pytest.approx(np.ones(len(rows)), abs=1e-6)
    exchange = room.area[:, None] * room.factors
    assert np.allclose(exchange, exchange.T, atol=1e-9)
    at = size * [x, y, 0.8]
    source = Source(at, aim, 0.0, 0.3, 0.3, Beam(beam), 100.0)
    light = room.lit_by(source)
    straight = np.bincount(room.patch, light, len(room.area)) / 16
    assert float(straight @ room.area) == pytest.approx(source.lumens, rel=1e-6)
    arriving = straight + room.response @ straight
    absorbed = float(((1 - room.reflectance) * arriving) @ room.area)
    assert absorbed <= source.lumens * (1 + 1e-6)
    assert absorbed == pytest.approx(source.lumens, rel=1e-6 if kind == "none" else 0.06)
    sent = room.sent_by(light)
    assert (
        sent <= room.reflectance[room.patch] * (light + (room.response @ straight)[room.patch]) + 1e-9
    ).all()


def test_what_a_small_area_sees_adds_up_to_one_and_a_lit_room_lights_it_evenly() -> None:
    """In a closed room whose every surface sends M lm/m², any small area gets M lux."""
    room = Enclosure(box_room(3.0, 4.0, 2.5, [0.5] * 6))
    view = room.view(np.array([[1.0, 1.0, 1.5], [0.1, 0.1, 0.1]]), np.array([[0, 0, 1.0], [0, 1.0, 0]]))
    assert view.sum(axis=1) == pytest.approx([1.0, 1.0])
    # The share that goes to the ceiling, seen from below its middle: B-3, four quarters of 1.5 × 2 at 1 m.
    middle = room.view(np.array([[1.5, 2.0, 1.5]]), np.array([[0, 0, 1.0]]))[0]
    assert middle[room.owner[room.patch] == 5].sum() == pytest.approx(4 * 0.194980, rel=0.01)


def test_black_cloth_takes_light_and_a_white_board_gives_it() -> None:
    size = np.array([4.0, 4.0, 2.5])
    walls = box_room(4.0, 4.0, 2.5, [0.5, 0.5, 0.5, 0.5, 0.2, 0.7])
    source = Source(np.array([1.0, 1.0, 1.8]), 45.0, 0.0, 0.3, 0.3, Beam(110.0), 500.0)
    face, cheek = np.array([[2.0, 2.0, 1.6]]), np.array([[1.0, 0.0, 0.0]])

    def bounced(kind: str | None) -> float:
        place = Place(x_m=2.7, y_m=2.0, height_m=1.5, aim_deg=270.0)
        stands = (
            () if kind is None else (SetPiece(id="it", kind=kind, place=place, width_m=1.2, height_m=1.6),)
        )
        pieces = Pieces(stands, None, size)
        room = Enclosure(walls, pieces.surfaces, pieces.blocks)
        return float(room.view(face, cheek)[0] @ room.sent_by(room.lit_by(source)))

    bare, black, white = bounced(None), bounced("negative fill"), bounced("reflector")
    assert black < 0.7 * bare
    assert white > 1.3 * bare


@pytest.mark.parametrize("kind", ["board", "table"])
def test_with_something_in_the_room_every_patch_still_sends_on_all_it_has(kind: str) -> None:
    size = np.array([4.0, 4.0, 2.5])
    pieces = pieces_of(kind, 2.0, 1.6, 30.0, size)
    room = Enclosure(box_room(4.0, 4.0, 2.5, [0.5] * 6), pieces.surfaces, pieces.blocks)
    assert room.factors.sum(axis=1) == pytest.approx(np.ones(len(room.area)), abs=1e-3)
