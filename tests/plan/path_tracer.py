"""A small Monte Carlo path tracer: the reference that the forecast is judged against.

It shares no line with the forecast. A box room of diffuse surfaces, boxes and flat boards in it, rectangular
lamps whose every point shines with I₀ cosⁿ θ (or evenly all round), a receiver of small area. Paths start at
the receiver with the cosine's density (M. Pharr, W. Jakob, G. Humphreys, Physically Based Rendering, the
chapters on path tracing and next-event estimation; the estimator is derived below), hit what is nearest, and
gather direct light there from one random point of each lamp.

E = ∫ L cos θ dω; with density cos θ / π the estimate is π L. A diffuse surface sends L = ρ E / π, so each hit
adds E_direct × (product of ρ so far), and the path goes on from there.

A scene is plain data: ``size`` [x, y, z], ``rho`` of left, right, bottom, top, floor, ceiling; ``lamps`` with
``at``, ``aim`` (degrees clockwise from +y), ``tilt`` (above the horizontal), ``size`` [w, h], ``beam`` (full
angle at half), ``lumens``; ``boxes`` with ``low``, ``high``, ``rho``; ``boards`` with ``at``, ``aim``,
``size``, ``rho`` (upright, both sides alike); ``face`` and ``camera`` [x, y, z].
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Scene = Mapping[str, Any]

BOUNCES = 40
"""Hits after which a path ends in any case: at ρ = 0.9, 1.5 % of the light is left then."""
TINY = 1e-4


def lamp_frame(lamp: Mapping[str, Any]) -> tuple[Array, Array, Array]:
    """(ahead, right, up) unit vectors."""
    aim, tilt = np.radians(lamp["aim"]), np.radians(lamp.get("tilt", 0.0))
    ahead = np.array([np.sin(aim) * np.cos(tilt), np.cos(aim) * np.cos(tilt), np.sin(tilt)])
    right = np.array([np.cos(aim), -np.sin(aim), 0.0])
    return ahead, right, np.cross(right, ahead)


def _points(lamp: Mapping[str, Any], n: int, draw: np.random.Generator) -> Array:
    _, right, up = lamp_frame(lamp)
    s = draw.random((n, 2)) - 0.5
    width, height = lamp["size"]
    found: Array = np.array(lamp["at"]) + s[:, :1] * width * right + s[:, 1:] * height * up
    return found


def _from_point(lamp: Mapping[str, Any], points: Array, places: Array, normals: Array) -> Array:
    ahead, _, _ = lamp_frame(lamp)
    way = places - points
    d2 = np.einsum("ij,ij->i", way, way)
    way = way / np.sqrt(d2)[:, None]
    arriving = np.maximum(-np.einsum("ij,ij->i", way, normals), 0.0)
    if lamp["beam"] >= 180.0:
        intensity = np.full(len(places), lamp["lumens"] / (4 * np.pi))
    else:
        n = np.log(0.5) / np.log(np.cos(np.radians(lamp["beam"] / 2)))
        intensity = lamp["lumens"] * (n + 1) / (2 * np.pi) * np.maximum(way @ ahead, 0.0) ** n
    return np.asarray(intensity * arriving / d2)


class World:
    """What rays can hit."""

    def __init__(self, scene: Scene) -> None:
        self.size, self.rho = np.array(scene["size"], float), np.array(scene["rho"], float)
        self.boxes = [(np.array(b["low"], float), np.array(b["high"], float), b["rho"])
                      for b in scene.get("boxes", ())]  # fmt: skip
        self.boards = []
        for board in scene.get("boards", ()):
            ahead, right, up = lamp_frame(board)
            self.boards.append((np.array(board["at"], float), ahead, right, up, board["size"], board["rho"]))

    def hit(self, start: Array, way: Array) -> tuple[Array, Array, Array]:
        """(distance, normal towards the ray, reflectance) of what each ray meets first."""
        n = len(start)
        with np.errstate(divide="ignore", invalid="ignore"):
            to_low, to_high = -start / way, (self.size - start) / way
        leaving = np.where(way > 0, to_high, to_low)
        leaving[~np.isfinite(leaving)] = np.inf
        axis = leaving.argmin(axis=1)
        rows = np.arange(n)
        distance = leaving[rows, axis]
        upper = way[rows, axis] > 0
        normal = np.zeros((n, 3))
        normal[rows, axis] = np.where(upper, -1.0, 1.0)
        rho = self.rho[2 * axis + upper]
        for low, high, share in self.boxes:
            enter, leave, across = _slabs(start, way, low, high)
            new = (enter < leave) & (enter > TINY) & (enter < distance)
            distance = np.where(new, enter, distance)
            rho = np.where(new, share, rho)
            normal[new] = 0.0
            normal[rows[new], across[new]] = -np.sign(way[rows[new], across[new]])
        for at, ahead, right, up, size, share in self.boards:
            distance_b, inside = _board(start, way, at, ahead, right, up, size)
            new = inside & (distance_b > TINY) & (distance_b < distance)
            distance, rho = np.where(new, distance_b, distance), np.where(new, share, rho)
            side = -np.sign(way @ ahead)
            normal[new] = (side[:, None] * ahead)[new]
        return distance, normal, rho

    def clear(self, start: Array, end: Array) -> Array:
        """1.0 where the straight line is free of boxes and boards."""
        way = end - start
        free = np.ones(len(start), dtype=bool)
        for low, high, _ in self.boxes:
            enter, leave, _ = _slabs(start, way, low, high)
            free &= ~((enter < leave) & (leave > TINY) & (enter < 1 - TINY))
        for at, ahead, right, up, size, _ in self.boards:
            distance, inside = _board(start, way, at, ahead, right, up, size)
            free &= ~(inside & (distance > TINY) & (distance < 1 - TINY))
        return free.astype(float)


def _slabs(start: Array, way: Array, low: Array, high: Array) -> tuple[Array, Array, NDArray[np.intp]]:
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (low - start) / way, (high - start) / way
    near, far = np.fmin(one, two), np.fmax(one, two)
    return near.max(axis=1), far.min(axis=1), near.argmax(axis=1)


def _board(
    start: Array, way: Array, at: Array, ahead: Array, right: Array, up: Array, size: Any
) -> tuple[Array, NDArray[np.bool_]]:
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = ((at - start) @ ahead) / (way @ ahead)
        there = start + distance[:, None] * way - at
        inside = (np.abs(there @ right) < size[0] / 2) & (np.abs(there @ up) < size[1] / 2)
    return np.where(np.isfinite(distance), distance, np.inf), inside & np.isfinite(distance)


def _cosine(normals: Array, draw: np.random.Generator) -> Array:
    """Directions about the normals with density cos θ / π: the normal plus a point of the unit sphere."""
    z = 2 * draw.random(len(normals)) - 1
    turn = 2 * np.pi * draw.random(len(normals))
    flat = np.sqrt(1 - z * z)
    way = normals + np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1) * (1 - 1e-9)
    return np.asarray(way / np.linalg.norm(way, axis=1)[:, None])


def trace(scene: Scene, place: Array, normal: Array, paths: int, seed: int) -> tuple[Array, Array, Array]:
    """(direct, bounced, standard error of bounced), lux by lamp, at a small area that faces ``normal``."""
    draw, world = np.random.default_rng(seed), World(scene)
    lamps = scene["lamps"]
    places = np.repeat(np.asarray(place, float)[None, :], paths, axis=0)
    normals = np.repeat(np.asarray(normal, float)[None, :], paths, axis=0)
    direct = np.zeros(len(lamps))
    for k, lamp in enumerate(lamps):
        points = _points(lamp, paths, draw)
        light = _from_point(lamp, points, places, normals) * world.clear(places, points)
        direct[k] = light.mean()
    gathered = np.zeros((len(lamps), paths))
    alive: NDArray[Any] = np.arange(paths)
    weight: Array = np.ones(paths)
    for bounce in range(BOUNCES):
        way = _cosine(normals, draw)
        distance, normals, rho = world.hit(places, way)
        places = places + way * distance[:, None] + normals * 1e-6
        weight = weight * rho
        if bounce >= 3:  # go on with the chance ρ, at a weight that keeps the mean
            go_on = draw.random(len(weight)) < rho
            weight = weight / np.maximum(rho, 1e-9)
            alive, places, normals, weight = alive[go_on], places[go_on], normals[go_on], weight[go_on]
        if not len(alive):
            break
        for k, lamp in enumerate(lamps):
            points = _points(lamp, len(alive), draw)
            light = _from_point(lamp, points, places, normals) * world.clear(places, points)
            gathered[k, alive] += weight * light
    return direct, gathered.mean(axis=1), gathered.std(axis=1) / np.sqrt(paths)
