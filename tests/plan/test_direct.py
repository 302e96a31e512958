"""Straight light against closed forms: the point law, cosine powers, the rectangular diffuse source.

Configuration factors of a rectangle seen from a small area are those of J. R. Howell, A Catalog of Radiation
Heat Transfer Configuration Factors, B-3 (areas parallel) and B-4 (at right angles); their values here are
computed from the formulas in the test, which agree with numeric quadrature to six places. Beam figures are
I = Φ (n + 1) / 2π with n = ln ½ / ln cos(β/2), own arithmetic; 50 % and 10 % are the trade's beam and field
angles.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.plan.beam import Beam
from onecrew.plan.blocking import Block, clear
from onecrew.plan.source import Source, illuminance
from onecrew.plan.vectors import across, aim_of, direction


def at_origin(width: float, height: float, beam: Beam | None = None, candela: float = 1.0) -> Source:
    """A source at the origin that faces +y."""
    return Source(np.zeros(3), 0.0, 0.0, width, height, beam or Beam(), candela)


def read(source: Source, place: tuple[float, ...], normal: tuple[float, ...]) -> float:
    way = np.array(normal) / np.linalg.norm(normal)
    return float(illuminance(source, np.array([place], dtype=float), way[None, :])[0])


def parallel(a: float, b: float, c: float) -> float:
    """B-3: normal of the small area through a corner of the rectangle a × b, distance c."""
    x, y = a / c, b / c
    return (
        x / np.hypot(1, x) * np.arctan(y / np.hypot(1, x))
        + y / np.hypot(1, y) * np.arctan(x / np.hypot(1, y))
    ) / (2 * np.pi)


def square(a: float, b: float, c: float) -> float:
    """B-4: a along the small area's normal from its plane on, b across, distance c, opposite one end."""
    x, y = a / b, c / b
    root = 1 / np.hypot(x, y)
    return float((np.arctan(1 / y) - root * y * np.arctan(root)) / (2 * np.pi))


# Lambertian of area A and on-axis intensity I: L = I / A, E = π L F.


@pytest.mark.parametrize(
    ("a", "b", "c"), [(1, 1, 1), (1, 2, 1), (2, 1, 1), (0.5, 0.5, 1), (3, 1, 2), (1, 1, 0.5)]
)
def test_a_diffuse_rectangle_is_its_configuration_factor(a: float, b: float, c: float) -> None:
    source = at_origin(a, b)
    lux = read(source, (a / 2, c, b / 2), (0, -1, 0))
    assert lux == pytest.approx(np.pi / (a * b) * parallel(a, b, c), rel=0.005)


@pytest.mark.parametrize(
    ("a", "b", "c"), [(1, 1, 1), (1, 2, 1), (2, 1, 1), (0.5, 0.5, 1), (3, 1, 2), (1, 1, 2)]
)
def test_and_so_it_is_for_an_area_at_right_angles(a: float, b: float, c: float) -> None:
    source = at_origin(b, a)  # b lies across, a along the receiver's normal
    lux = read(source, (b / 2, c, -a / 2), (0, 0, 1))
    assert lux == pytest.approx(np.pi / (a * b) * square(a, b, c), rel=0.005)


def test_the_catalogue_values_are_those_of_the_formulas() -> None:
    # The same to six places by numeric quadrature of cos cos / π d².
    assert parallel(1, 1, 1) == pytest.approx(0.138532, abs=1e-6)
    assert parallel(3, 1, 2) == pytest.approx(0.102041, abs=1e-6)
    assert square(1, 1, 1) == pytest.approx(0.055734, abs=1e-6)
    assert square(2, 1, 1) == pytest.approx(0.095068, abs=1e-6)


@pytest.mark.parametrize(
    ("away", "against_point"),
    [(0.5, 0.43521), (1.0, 0.75227), (1.4, 0.85554), (2.0, 0.92335), (3.0, 0.96435), (5.0, 0.98685)],
)
def test_a_panel_reads_less_than_the_point_law_near_it(away: float, against_point: float) -> None:
    lux = read(at_origin(1.0, 1.0), (0, away, 0), (0, -1, 0))
    assert lux * away**2 == pytest.approx(against_point, rel=0.002)


def test_a_source_across_the_plane_of_the_receiver_is_cut_there() -> None:
    # Half of the rectangle lies behind the receiver's plane: the other half is B-4's rectangle, doubled.
    lux = read(at_origin(1.0, 1.0), (0, 0.8, 0), (0, 0, 1))
    assert lux == pytest.approx(np.pi * 2 * square(0.5, 0.5, 0.8), rel=0.02)


@pytest.mark.parametrize(
    ("place", "normal", "lux"),
    [
        ((0, 2, 0), (0, -1, 0), 250.0),  # 1000 cd at 2 m
        ((0, 2, 0), (0, -1, 1), 176.8),  # the receiver turned by 45°
        ((0, 2, 2 * np.tan(np.radians(30))), (0, -1, 0), 162.4),  # E = I cos³ θ / h²
    ],
)
def test_a_point_obeys_inverse_square_and_cosine(
    place: tuple[float, ...], normal: tuple[float, ...], lux: float
) -> None:
    assert read(at_origin(0, 0, Beam(360.0), 1000.0), place, normal) == pytest.approx(lux, rel=5e-4)


def test_a_textbook_exercise_in_footcandles() -> None:
    # 90 cd at 25° off, 18 lm/ft² wanted: the furthest distance is 2.129 ft, 0.649 m.
    turned = (0.0, -np.cos(np.radians(25)), np.sin(np.radians(25)))
    lux = read(at_origin(0, 0, Beam(360.0), 90.0), (0, 0.649, 0), turned)
    assert lux / 10.764 == pytest.approx(18.0, rel=0.002)


@pytest.mark.parametrize(
    ("beam", "n", "field", "candela"),
    [(20, 45.278, 36.24, 7365), (30, 19.994, 53.95, 3341), (40, 11.143, 71.16, 1933),
     (60, 4.8188, 103.35, 926), (90, 2.0, 143.13, 477), (120, 1.0, 168.52, 318.3)],
)  # fmt: skip
def test_cosine_powers(beam: float, n: float, field: float, candela: float) -> None:
    power, bend = Beam(beam).power
    assert (power, bend) == (pytest.approx(n, rel=1e-4), 1.0)
    assert 1000 / Beam(beam).lumens_per_cd == pytest.approx(candela, rel=1e-3)
    bent = Beam(beam, field)  # a field angle that says the same changes nothing
    assert bent.power[1] == pytest.approx(1.0, abs=2e-3)
    assert bent.lumens_per_cd == pytest.approx(Beam(beam).lumens_per_cd, rel=2e-3)


@given(st.floats(4, 110), st.floats(1.05, 1.5))
def test_a_beam_passes_through_both_its_angles(beam: float, wider: float) -> None:
    found = Beam(beam, beam * wider)
    halves = np.cos(np.radians([0.0, beam / 2, beam * wider / 2]))
    assert found.shape(halves) == pytest.approx([1.0, 0.5, 0.1], rel=1e-6)
    assert found.shape(np.array([-0.1]))[0] == 0.0


def test_a_source_sends_its_flux() -> None:
    """Over a sphere around it: own quadrature, uniform in cos θ."""
    for beam in (Beam(25.0, 50.0), Beam(110.0), Beam(360.0)):
        source = at_origin(0, 0, beam, 100.0)
        cosine = (np.arange(4000) + 0.5) / 2000 - 1
        places = 50 * np.stack([np.sqrt(1 - cosine**2), cosine, 0 * cosine], axis=1)
        flux = illuminance(source, places, -places / 50).mean() * 4 * np.pi * 50**2
        assert flux == pytest.approx(source.lumens, rel=2e-3)


@given(st.floats(0, 359), st.floats(-89, 89), st.floats(-180, 180))
def test_directions_are_square_to_each_other(aim: float, tilt: float, roll: float) -> None:
    ahead, (right, up) = direction(aim, tilt), across(aim, tilt, roll)
    assert np.allclose(np.stack([right, up, ahead]) @ np.stack([right, up, ahead]).T, np.eye(3), atol=1e-9)
    back = direction(*aim_of(ahead))
    assert np.allclose(back, ahead, atol=1e-9)


def test_up_the_plan_is_zero_and_right_is_ninety() -> None:
    assert np.allclose(direction(0), [0, 1, 0])
    assert np.allclose(direction(90), [1, 0, 0])
    assert np.allclose(direction(0, -90), [0, 0, -1])
    tube = across(0.0, 0.0, 90.0)[0]
    assert np.allclose(np.abs(tube), [0, 0, 1])  # a lying tube, stood on end


def test_what_stands_between_hides() -> None:
    board = Block("board", np.array([0, 1.0, 0]), np.eye(3), np.array([0.5, 0.0, 0.5]))
    ends = np.array([[0, 2.0, 0], [0, 0.5, 0], [1.4, 2.0, 0], [0.0, 1.0, 2.0]])
    assert clear(np.zeros((1, 3)), ends, [board]).tolist() == [0.0, 1.0, 1.0, 1.0]
    assert clear(np.array([[0, 1.001, 0]]), ends[:1], [board]).tolist() == [1.0]  # from its own far side
    assert clear(np.array([[0, 0.998, 0]]), ends[:1], [board]).tolist() == [0.0]


def test_half_a_source_behind_a_board_gives_half() -> None:
    source = at_origin(1.0, 0.02)
    board = Block("board", np.array([0.5, 0.1, 0.0]), np.eye(3), np.array([0.5, 0.0, 0.5]))
    place, normal = np.array([[0.0, 40.0, 0.0]]), np.array([[0.0, -1.0, 0.0]])
    free = illuminance(source, place, normal)[0]
    assert illuminance(source, place, normal, [board])[0] / free == pytest.approx(0.5, abs=0.09)
