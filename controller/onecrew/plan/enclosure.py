"""Enclosure: a box room and the flat things and boxes in it, and how light goes round between them.

Radiosity: every surface is cut into patches that send on, evenly to all sides, the share ρ of what they get:
E = E₀ + F (ρ E), with F the configuration factors. Those between the patches of the empty box are closed
forms; where something stands in between, the share of lines that pass is taken off, and factors of the
things themselves are sums over pairs of points. The matrix is then scaled from both sides until every row
adds up to 1, so that nothing is lost or made (Sinkhorn's scaling): A F stays symmetric (reciprocity).
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from onecrew.colour.arrays import FloatArray, IndexArray
from onecrew.plan.blocking import Block, clear
from onecrew.plan.factors import parallel, square
from onecrew.plan.source import Source, illuminance

CUTS = 8
"""Patches along each side of a wall."""
PIECE_CUTS = 3
"""Patches along each side of a thing in the room."""
FINE = 4
"""Points along each side of a patch, at which light arrives and from which it is gathered."""
OFF_M = 2e-3
"""How far before its surface a point lies."""
MOST_KEPT = 64
"""Sources whose light round the room is kept; each takes some 50 kB."""
ROUNDS = 200
MOST_SCALED = 3.0
"""The most by which a patch's factors are scaled, either way."""
SIDES = ("left", "right", "bottom", "top", "floor", "ceiling")
"""The surfaces of the room, as on the plan; their order in an enclosure."""


@dataclass(frozen=True, slots=True)
class Surface:
    """A rectangle that sends light on: a corner, its two sides, the way it faces and its reflectance."""

    name: str
    corner: FloatArray
    side_u: FloatArray
    side_v: FloatArray
    normal: FloatArray
    reflectance: float
    cuts: int = CUTS

    @property
    def area(self) -> float:
        return float(np.linalg.norm(np.cross(self.side_u, self.side_v)))

    def grid(self, n: int) -> FloatArray:
        """(n², 3) points in the middles of n × n equal parts, those along ``side_v`` next to each other."""
        middles = (np.arange(n) + 0.5) / n
        u, v = (each.reshape(-1, 1) for each in np.meshgrid(middles, middles, indexing="ij"))
        places: FloatArray = self.corner + u * self.side_u + v * self.side_v + OFF_M * self.normal
        return places


def box_room(width: float, depth: float, height: float, reflectances: Sequence[float]) -> tuple[Surface, ...]:
    """The six surfaces of a room, in the order of ``SIDES``; they face inwards."""
    x, y, z = np.diag([width, depth, height])
    axes = np.eye(3)
    shapes = (
        (np.zeros(3), y, z, axes[0]),
        (x, y, z, -axes[0]),
        (np.zeros(3), x, z, axes[1]),
        (y, x, z, -axes[1]),
        (np.zeros(3), x, y, axes[2]),
        (z, x, y, -axes[2]),
    )
    return tuple(
        Surface(name, *shape, reflectance)
        for name, shape, reflectance in zip(SIDES, shapes, reflectances, strict=True)
    )


class Enclosure:
    """The patches of a room with things in it. ``walls`` are the six of ``box_room``."""

    def __init__(
        self, walls: Sequence[Surface], pieces: Sequence[Surface] = (), blocks: Sequence[Block] = ()
    ) -> None:
        self.surfaces = (*walls, *pieces)
        self.blocks = tuple(blocks)
        self._walls = len(walls)
        self._kept: dict[Hashable, FloatArray] = {}
        self.owner: IndexArray = np.repeat(np.arange(len(self.surfaces)), [s.cuts**2 for s in self.surfaces])
        """By patch: which surface it is part of."""
        self.area = np.array([s.area / s.cuts**2 for s in self.surfaces])[self.owner]
        self.reflectance = np.array([s.reflectance for s in self.surfaces])[self.owner]
        self.normal = np.array([s.normal for s in self.surfaces])[self.owner]
        points, patches, start = [], [], 0
        for surface in self.surfaces:
            n = surface.cuts * FINE
            places = surface.grid(n)
            u, v = np.divmod(np.arange(n * n), n)
            patches.append(start + (u // FINE) * surface.cuts + v // FINE)
            points.append(places)
            start += surface.cuts**2
        self.points = np.concatenate(points)
        """(m, 3): the fine points of all patches."""
        self.patch: IndexArray = np.concatenate(patches)
        """(m,): the patch of each fine point."""

    @property
    def size(self) -> FloatArray:
        """(3,): width, depth and height of the room."""
        return np.array([self.surfaces[2].side_u.sum(), self.surfaces[0].side_u.sum(),
                         self.surfaces[0].side_v.sum()])  # fmt: skip

    # ── Between patches ─────────────────────────────────────────────────────────────────────────────

    @cached_property
    def factors(self) -> FloatArray:
        """F (n, n): the share of the light leaving patch i that arrives at patch j."""
        exchange = self._empty_box()
        if self.blocks:
            exchange *= self._passing()
        if len(self.surfaces) > self._walls:
            exchange = np.maximum(exchange, self._of_pieces())
        scale = np.ones(len(self.area))
        for _ in range(ROUNDS):
            rows = exchange @ scale
            step = np.sqrt(self.area / np.maximum(scale * rows, 1e-12))
            new = np.clip(scale * step, 1.0 / MOST_SCALED, MOST_SCALED)
            moved = np.abs(new / scale - 1.0).max()
            scale = new
            if moved < 1e-9:
                break
        exchange = scale[:, None] * exchange * scale[None, :]
        # A patch that is all but walled in cannot be scaled to see a whole room: it sends on less instead.
        over = np.maximum(exchange.sum(axis=1) / self.area, 1.0)
        exchange /= np.maximum(over[:, None], over[None, :])
        return np.asarray(exchange / self.area[:, None])

    @cached_property
    def response(self) -> FloatArray:
        """(n, n): what arrives by way of other surfaces for what arrives straight, E − E₀ = response E₀."""
        sent = self.factors * self.reflectance[None, :]
        return np.asarray(np.linalg.solve(np.eye(len(self.area)) - sent, sent), dtype=np.float64)

    def _empty_box(self) -> FloatArray:
        """A F between the patches of the six walls, closed form; 0 for the rest."""
        n = len(self.area)
        exchange = np.zeros((n, n))
        size = self.size
        for i in range(self._walls):
            for j in range(i + 1, self._walls):
                one, other = (self._extents(k) for k in (i, j))
                axis_i, axis_j = i // 2, j // 2
                if axis_i == axis_j:
                    u, v = (k for k in range(3) if k != axis_i)
                    found = parallel(
                        np.concatenate([one[:, u], one[:, v]], axis=1),
                        np.concatenate([other[:, u], other[:, v]], axis=1),
                        float(size[axis_i]),
                    )
                else:
                    along = 3 - axis_i - axis_j
                    from_i = np.abs(one[:, axis_j] - (size[axis_j] if j % 2 else 0.0))
                    from_j = np.abs(other[:, axis_i] - (size[axis_i] if i % 2 else 0.0))
                    found = square(
                        np.concatenate([np.sort(from_i, axis=1), one[:, along]], axis=1),
                        np.concatenate([np.sort(from_j, axis=1), other[:, along]], axis=1),
                    )
                rows, columns = (np.flatnonzero(self.owner == k) for k in (i, j))
                exchange[np.ix_(rows, columns)] = np.maximum(found, 0.0)
                exchange[np.ix_(columns, rows)] = np.maximum(found, 0.0).T
        return exchange

    def _extents(self, wall: int) -> FloatArray:
        """(patches, 3, 2): from where to where each patch of a wall reaches along x, y and z."""
        surface = self.surfaces[wall]
        steps = np.arange(surface.cuts) / surface.cuts
        u, v = (each.reshape(-1, 1) for each in np.meshgrid(steps, steps, indexing="ij"))
        low = surface.corner + u * surface.side_u + v * surface.side_v
        high = low + (surface.side_u + surface.side_v) / surface.cuts
        return np.stack([low, high], axis=-1)

    def _coarse(self) -> FloatArray:
        """(n, 4, 3): four points of each patch."""
        found = []
        for surface in self.surfaces:
            cuts = surface.cuts
            grid = surface.grid(2 * cuts).reshape(cuts, 2, cuts, 2, 3)
            found.append(grid.transpose(0, 2, 1, 3, 4).reshape(cuts**2, 4, 3))
        return np.concatenate(found)

    def _passing(self) -> FloatArray:
        """(n, n): the share of four lines between each two patches that nothing stands across."""
        points = self._coarse()
        passing = np.zeros((len(points), len(points)))
        for mine, other in ((0, 0), (1, 2), (3, 3), (2, 1)):
            passing += clear(points[:, None, mine], points[None, :, other], self.blocks) / 4.0
        return (passing + passing.T) / 2.0

    def _of_pieces(self) -> FloatArray:
        """A F where a thing in the room is one of the two, sums over four points each; 0 between walls."""
        points, n = self._coarse(), len(self.area)
        first = int(np.searchsorted(self.owner, self._walls))
        exchange = np.zeros((n, n))
        for mine in range(4):
            for other in range(4):
                here, there = points[first:, None, mine], points[None, :, other]
                way = there - here
                distance = (way**2).sum(axis=-1)
                leaving = (way * self.normal[first:, None]).sum(axis=-1)
                arriving = -(way * self.normal[None]).sum(axis=-1)
                facing = np.maximum(leaving, 0.0) * np.maximum(arriving, 0.0)
                areas = self.area[first:, None] * self.area[None, :] / 16.0
                soft = np.pi * distance + np.sqrt(areas)  # two patches that touch do not blow up
                found = areas * facing / np.maximum(distance * soft, 1e-12)
                exchange[first:] += found * clear(here, there, self.blocks)
        exchange[:first, first:] = exchange[first:, :first].T
        exchange[first:, first:] = (exchange[first:, first:] + exchange[first:, first:].T) / 2.0
        return exchange

    # ── From sources, and to places ─────────────────────────────────────────────────────────────────

    def lit_by(self, source: Source) -> FloatArray:
        """(m,): direct light of a source on the fine points, lux, scaled so that no flux is lost or made."""
        normals = self.normal[self.patch]
        longest = max(source.width_m, source.height_m)
        away = np.linalg.norm(self.points - source.at, axis=1)
        light = np.zeros(len(self.points))
        for low, high, n in ((0.0, 2.0, 4), (2.0, 5.0, 3), (5.0, 10.0, 2), (10.0, np.inf, 1)):
            rows = np.flatnonzero((away >= low * longest) & (away < high * longest))
            if len(rows):
                light[rows] = illuminance(source, self.points[rows], normals[rows], self.blocks, n)
        landed = float(light @ self._fine_area)
        return light * (source.lumens / landed) if landed > 0.05 * source.lumens else light

    @cached_property
    def _fine_area(self) -> FloatArray:
        return self.area[self.patch] / FINE**2

    def sent_by(self, light: FloatArray) -> FloatArray:
        """(m,): what the fine points send on, lm/m², once light that falls on them has gone round."""
        straight = np.bincount(self.patch, light, len(self.area)) / FINE**2
        round_about = self.response @ straight
        return np.asarray(self.reflectance[self.patch] * (light + round_about[self.patch]))

    def sent_for(self, source: Source, lit: Enclosure) -> FloatArray:
        """``sent_by`` for a source in ``lit``, this room with maybe less in it; the last few are kept.

        What is kept is for one candela, so that a lamp that is dimmed costs nothing.
        """
        found = self._kept.get(source.key)
        if found is None:
            found = self.sent_by(lit.lit_by(source.of_candela(1.0)))
            self._kept[source.key] = found
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept)), None)
        return found * source.candela

    def view(self, places: FloatArray, normals: FloatArray) -> FloatArray:
        """(k, m): how much each fine point counts at small areas at ``places`` that face along ``normals``.

        Configuration factors; each row adds up to 1, for a small area in a closed room sees surfaces alone.
        """
        way = self.points[None, :, :] - places[:, None, :]
        distance = np.maximum((way**2).sum(axis=-1), 1e-9)
        arriving = np.maximum((way * normals[:, None, :]).sum(axis=-1), 0.0)
        leaving = np.maximum(-(way * self.normal[self.patch][None]).sum(axis=-1), 0.0)
        area = self._fine_area[None, :]
        seen = arriving * leaving * area / (distance * (np.pi * distance + area))
        if self.blocks:
            rows, columns = np.nonzero(seen)
            seen[rows, columns] *= clear(places[rows], self.points[columns], self.blocks)
        total = seen.sum(axis=1, keepdims=True)
        return np.asarray(seen / np.maximum(total, 1e-12), dtype=np.float64)
