"""The gamut's hull: nearest means nearest, and the way there is smooth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from onecrew.colour.hull import Hull

LAWS = settings(max_examples=60, deadline=None)
SEED = st.integers(0, 2**32 - 1)


def some(seed: int, count: int, kind: str) -> np.ndarray:
    rng = np.random.default_rng(seed)
    points = rng.uniform(0.0, 1.0, (count, 2))
    if kind == "line":
        points = points[:1] + (points[-1:] - points[:1]) * rng.uniform(0.0, 1.0, (count, 1))
    if kind == "coarse":
        points = points.round(1)
    return points


@LAWS
@given(seed=SEED, count=st.integers(1, 8), kind=st.sampled_from(("any", "line", "coarse")))
def test_nearest_is_no_further_than_any_point_of_the_hull(seed: int, count: int, kind: str) -> None:
    points = some(seed, count, kind)
    hull = Hull(points)
    rng = np.random.default_rng(seed + 1)
    asked = rng.uniform(-0.5, 1.5, (20, 2))
    nearest, distance = hull.nearest(asked)
    net = rng.dirichlet(np.full(count, 0.5), 400) @ points
    to_net = np.hypot(*(asked[:, None] - net).T).T
    assert (to_net >= distance[:, None] - 1e-12).all()
    assert np.hypot(*(asked - nearest).T) == pytest.approx(distance, abs=2e-12)
    again, still = hull.nearest(nearest)
    assert np.abs(again - nearest).max() < 1e-11
    assert still.max() < 1e-11
    # Two colours never get further apart on their way into the gamut.
    apart = np.hypot(*(asked[:10] - asked[10:]).T)
    assert (np.hypot(*(nearest[:10] - nearest[10:]).T) <= apart + 1e-11).all()


@LAWS
@given(seed=SEED, count=st.integers(3, 40))
def test_corners_are_those_of_scipy(seed: int, count: int) -> None:
    points = some(seed, count, "any")
    theirs = points[ConvexHull(points).vertices]
    ours = Hull(points).vertices
    assert sorted(map(tuple, ours)) == sorted(map(tuple, theirs))


def test_a_hull_of_one_point_and_of_a_line() -> None:
    nearest, distance = Hull(np.array([[0.2, 0.5], [0.2, 0.5]])).nearest(np.array([[0.2, 0.5], [0.5, 0.9]]))
    assert nearest.tolist() == [[0.2, 0.5], [0.2, 0.5]]
    assert distance == pytest.approx([0.0, 0.5])
    line = Hull(np.array([[0.0, 0.0], [1.0, 1.0], [0.5, 0.5]]))
    nearest, distance = line.nearest(np.array([[1.0, 0.0], [2.0, 2.0]]))
    assert nearest == pytest.approx(np.array([[0.5, 0.5], [1.0, 1.0]]))
    assert distance == pytest.approx([np.sqrt(0.5), np.sqrt(2.0)])
