"""The forecast against path-traced rooms, and the tracer against what is known in closed form."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.plan.path_tracer import trace
from tests.plan.rooms import TABLES, rooms, stage

GOAL_STOPS = 0.2
"""For every lamp that gives more than 5 % of the light at the subject."""


@cache
def errors(table: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(share of the light, stops off facing the camera, stops off facing the lamp) of every traced lamp."""
    found = []
    for row in rooms(table):
        scene, lux = row["scene"], row["lux"]
        there = stage(scene)
        names, face = list(there.sources), np.array(scene["face"])
        toward = np.array(scene["camera"]) - face
        camera = toward / np.linalg.norm(toward)
        total = sum(lamp["camera_direct"] + lamp["camera_bounced"] for lamp in lux)
        for name, traced in zip(names, lux, strict=True):
            way = there.sources[name].at - face
            normals = np.stack([camera, way / np.linalg.norm(way)])
            places = np.stack([face, face])
            read = there.direct(name, places, normals) + there.bounced([name], places, normals)[0]
            reference = [
                traced[f"{facing}_direct"] + traced[f"{facing}_bounced"] for facing in ("camera", "lamp")
            ]
            found.append((reference[0] / total, *np.log2(read / reference)))
    share, camera_off, lamp_off = np.array(found).T
    return share, camera_off, lamp_off


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
