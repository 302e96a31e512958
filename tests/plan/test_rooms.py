"""The forecast against path-traced rooms, and the tracer against what is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from tests.plan.path_tracer import trace
from tests.plan.rooms import TABLES, errors

GOAL_STOPS = 0.2
"""For every lamp that gives more than 5 % of the light at the subject."""


@pytest.mark.parametrize("table", TABLES)
def test_every_lamp_of_weight_is_within_a_fifth_of_a_stop(table: str) -> None:
    share, camera, lamp = errors(table)
    weighty = share > 0.05
    assert weighty.sum() > 40
    assert np.abs(camera[weighty]).max() < GOAL_STOPS
    assert np.abs(lamp).max() < GOAL_STOPS


@pytest.mark.parametrize("table", TABLES)
def test_the_middle_lamp_is_within_a_fiftieth(table: str) -> None:
    _, camera, lamp = errors(table)
    assert np.median(np.abs(camera)) < 0.02
    assert np.median(np.abs(lamp)) < 0.02
    assert abs(np.median(camera)) < 0.01  # no bias either way


def test_the_tracer_agrees_with_the_integrating_sphere() -> None:
    """A small lamp in the middle of a cube of one reflectance: E = Φ ρ / (A (1 − ρ)), near enough."""
    lamp = {
        "at": [1.0, 1.0, 1.0],
        "aim": 0.0,
        "tilt": 0.0,
        "size": [0.0, 0.0],
        "beam": 360.0,
        "lumens": 1000.0,
    }
    scene = {"size": [2.0, 2.0, 2.0], "rho": [0.6] * 6, "lamps": [lamp]}
    mean = np.mean(
        [
            trace(scene, np.array([x, y, 1e-6]), np.array([0, 0, 1.0]), 4000, 7 + k)[1][0]
            for k, (x, y) in enumerate(np.random.default_rng(5).random((25, 2)) * 2)
        ]
    )
    assert mean == pytest.approx(1000 * 0.6 / (24 * 0.4), rel=0.03)


def test_the_tracer_obeys_inverse_square_and_a_board_hides() -> None:
    lamp = {
        "at": [1.0, 3.0, 1.0],
        "aim": 180.0,
        "tilt": 0.0,
        "size": [0.0, 0.0],
        "beam": 120.0,
        "lumens": np.pi,
    }
    scene = {"size": [2.0, 4.0, 2.0], "rho": [0.0] * 6, "lamps": [lamp]}
    direct, bounced, _ = trace(scene, np.array([1.0, 1.0, 1.0]), np.array([0, 1.0, 0]), 100, 1)
    assert (direct[0], bounced[0]) == (pytest.approx(0.25), 0.0)  # 1 cd at 2 m
    board = {"at": [1.0, 2.0, 1.0], "aim": 0.0, "size": [0.5, 0.5], "rho": 0.0}
    hidden, _, _ = trace(
        {**scene, "boards": [board]}, np.array([1.0, 1.0, 1.0]), np.array([0, 1.0, 0]), 100, 1
    )
    assert hidden[0] == 0.0
