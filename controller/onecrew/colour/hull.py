"""The gamut of a set of emitters in a chromaticity diagram: their convex hull, and the way back into it."""

from __future__ import annotations

import math

import numpy as np

from onecrew.colour.arrays import FloatArray

_ON_EDGE = 1e-12
"""Distance outside an edge that is rounding, not another colour."""


class Hull:
    """Convex hull of points (n, 2); one point or a line of points is a hull too."""

    def __init__(self, points: FloatArray) -> None:
        self.vertices = _vertices(points)
        self._start = self.vertices
        self._along = np.roll(self.vertices, -1, axis=0) - self.vertices
        length2 = (self._along**2).sum(axis=1)
        self._length2 = np.where(length2 > 0.0, length2, 1.0)
        across = np.stack((-self._along[:, 1], self._along[:, 0]), axis=1) / np.sqrt(self._length2)[:, None]
        # (u, v, 1) @ inward is the distance inside each edge.
        self._inward = np.vstack((across.T, -(across * self._start).sum(axis=1)))

    def nearest(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Each of ``points`` (k, 2), or the hull's nearest point to it, and the distance (k,), 0 inside."""
        nearest, distance = points.copy(), np.zeros(len(points))
        if len(self.vertices) > 2:
            depth = points @ self._inward[:2] + self._inward[2]
            outside = np.flatnonzero(~(depth.min(axis=1) >= -_ON_EDGE))
            if not outside.size:
                return nearest, distance
        else:
            outside = np.arange(len(points))
        nearest[outside], distance[outside] = self._on_edges(points[outside])
        return nearest, distance

    def toward_edges(self, point: FloatArray, direction: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How deep a point (2,) lies inside each edge, (m,), and how fast ``direction`` (..., 2) nears it."""
        return point @ self._inward[:2] + self._inward[2], -(direction @ self._inward[:2])

    def _on_edges(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        aside = points[:, None, :] - self._start
        share = np.clip((aside * self._along).sum(axis=2) / self._length2, 0.0, 1.0)
        gap = aside - share[:, :, None] * self._along
        distance = np.hypot(gap[:, :, 0], gap[:, :, 1])
        edge = distance.argmin(axis=1)
        row = np.arange(len(points))
        on_edge = self._start[edge] + share[row, edge, None] * self._along[edge]
        shortest = distance[row, edge]
        return on_edge, np.where(shortest > _ON_EDGE, shortest, 0.0)


def _vertices(points: FloatArray) -> FloatArray:
    """Corners of the hull counter-clockwise, by the monotone chain; points along an edge are left out."""
    ordered = sorted({(float(x), float(y)) for x, y in points})
    if len(ordered) < 3:
        return np.array(ordered)
    lower, upper = _chain(ordered), _chain(ordered[::-1])
    return np.array(lower[:-1] + upper[:-1])


def _chain(ordered: list[tuple[float, float]]) -> list[tuple[float, float]]:
    chain: list[tuple[float, float]] = []
    for point in ordered:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= _ON_EDGE:
            chain.pop()
        chain.append(point)
    return chain


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """How far ``b`` lies to the right of the line from ``a`` to ``c``."""
    along, up = c[0] - a[0], c[1] - a[1]
    length = math.hypot(along, up)
    return (along * (a[1] - b[1]) - up * (a[0] - b[0])) / length if length else 0.0
