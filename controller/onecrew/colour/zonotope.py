"""The brightest point of a mix along a colour, and the drives that make it, without a solver.

What n emitters can reach, each driven 0–1, is the sum of n segments in XYZ: a zonotope with the origin as
one corner. A colour is a ray from the origin; the most light of that colour is where the ray leaves the
body. Every facet is spanned by two emitters with all others fixed at 0 or 1, so the exit is the smallest
h(n) / (n · t) over the facets' normals n, with h(n) = Σ max(0, n · aₖ), and the two free drives follow from
two dot products. All of it is one matrix product for any number of colours.

Three or more emitters in one plane (chromaticities on one line) span a larger facet on which many drives
give the same light. There the facet is tiled by pairs, with the tiling that mixes neighbours on the line
in preference to distant ones; on shared edges of tiles and facets the drives agree, so drives move
continuously with the colour. Emitters of one chromaticity share one drive.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from onecrew.colour.arrays import FloatArray, IndexArray

_SAME_DIRECTION = 1e-8
"""Sine of the angle below which two emitters are one chromaticity."""
_IN_PLANE = 1e-9
"""Sine of the angle to a plane below which an emitter lies in it: rounding, well below any table's digits."""


class Zonotope:
    """The body of all mixes of emitters with XYZ at full drive ``vectors`` (n, 3)."""

    def __init__(self, vectors: FloatArray) -> None:
        self._member, self._generators = _merge(vectors)
        count = len(self._generators)
        if count == 1:
            return
        unit = _unit(self._generators)
        a, b = unit[_farthest_pair(unit)]
        across = np.cross(a, b)
        if np.abs(unit @ across).max() < _IN_PLANE:  # a rank by SVD would load much of LAPACK for this alone
            # All chromaticities on one line: the body is flat. A vector across it, never driven, stands in
            # for the second emitter of each pair.
            spanning = np.vstack((self._generators, across / np.linalg.norm(across)))
            pairs = [(i, count) for i in range(count)]
        else:
            spanning = self._generators
            pairs = list(combinations(range(count), 2))
        self._lay_tiles(spanning, pairs)

    def _lay_tiles(self, spanning: FloatArray, pairs: list[tuple[int, int]]) -> None:
        generators = self._generators
        count = len(generators)
        normals: list[FloatArray] = []
        reach: list[float] = []
        tiles_of: list[list[int]] = []
        found: dict[tuple[tuple[int, ...], int], int] = {}
        tiles: list[tuple[int, int, FloatArray, FloatArray, FloatArray, FloatArray]] = []
        facing: dict[tuple[int, ...], FloatArray] = {}
        lift = _lift(generators)
        for i, j in pairs:
            a, b = spanning[i], spanning[j]
            normal = np.cross(a / np.linalg.norm(a), b / np.linalg.norm(b))
            normal /= np.linalg.norm(normal)
            for_a, for_b = _dual(a, b, normal)
            height = generators @ normal
            flat = np.abs(height) < _IN_PLANE * np.linalg.norm(generators, axis=1)
            flat[[k for k in (i, j) if k < count]] = True
            above_line = lift - generators @ (for_a * lift[i] + for_b * (lift[j] if j < count else 0.0))
            plane = tuple(int(k) for k in np.flatnonzero(flat))
            # Pairs of one plane must agree on which of its sides is which.
            if float(facing.setdefault(plane, normal) @ normal) < 0.0:
                normal, height = -normal, -height
            for side in (1, -1):
                support = float(np.maximum(side * height[~flat], 0.0).sum())
                if support <= 1e-12 * float(np.abs(height).sum()):
                    continue  # through the origin: it bounds the colours, not the light
                on = np.where(flat, above_line > 0.0, side * height > 0.0).astype(np.float64)
                on[[k for k in (i, j) if k < count]] = 0.0
                if (plane, side) not in found:
                    found[plane, side] = len(normals)
                    normals.append(side * normal / support)
                    reach.append(support)
                    tiles_of.append([])
                tiles_of[found[plane, side]].append(len(tiles))
                tiles.append((i, j, on, on @ generators, for_a, for_b))
        most = max(len(of) for of in tiles_of)
        self._facets = np.ascontiguousarray(np.array(normals).T)
        self._tiles_of: IndexArray = np.array(
            [of + of[:1] * (most - len(of)) for of in tiles_of], dtype=np.intp
        )
        self._pair: IndexArray = np.array([(i, j) for i, j, *_ in tiles], dtype=np.intp)
        self._on = np.array([tile[2] for tile in tiles])
        self._offset = np.array([tile[3] for tile in tiles])
        self._duals = np.array([(tile[4], tile[5]) for tile in tiles])

    def exits(self, rays: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far each ray (k, 3) goes before it leaves the body, (k,), and the drives there, (k, n).

        The rays must lie in the emitters' cone; drives are clipped to 0–1 against rounding.
        """
        if len(self._generators) == 1:
            length = float(np.linalg.norm(self._generators[0]))
            return length / np.linalg.norm(rays, axis=1), np.ones((len(rays), len(self._member)))
        # Facets are scaled to h = 1, so the largest n · t is the first facet met.
        closeness = rays @ self._facets
        facet = closeness.argmax(axis=1)
        row = np.arange(len(rays))
        distance = 1.0 / closeness[row, facet]
        tile, shares = self._shares(rays * distance[:, None], facet)
        drives = np.zeros((len(rays), len(self._generators) + 1))
        drives[:, :-1] = self._on[tile]
        pair = self._pair[tile]
        drives[row, pair[:, 0]] = shares[:, 0]
        drives[row, pair[:, 1]] = shares[:, 1]
        return distance, np.minimum(np.maximum(drives, 0.0), 1.0)[:, self._member]

    def _shares(self, points: FloatArray, facet: IndexArray) -> tuple[IndexArray, FloatArray]:
        """The tile of its facet in which each point lies, and the drives of the tile's two emitters."""
        tiles = self._tiles_of[facet]
        if tiles.shape[1] == 1:
            tile = tiles[:, 0]
            return tile, np.einsum("kpc,kc->kp", self._duals[tile], points - self._offset[tile])
        shares = np.einsum("kmpc,kmc->kmp", self._duals[tiles], points[:, None, :] - self._offset[tiles])
        outside = np.maximum(-shares, shares - 1.0)
        outside[..., 1][self._pair[tiles][..., 1] >= len(self._generators)] = 0.0
        best = outside.max(axis=2).argmin(axis=1)
        row = np.arange(len(points))
        return tiles[row, best], shares[row, best]


def _unit(vectors: FloatArray) -> FloatArray:
    unit: FloatArray = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return unit


def _merge(vectors: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Which generator each emitter belongs to, and the generators: emitters of one direction added up."""
    unit = _unit(vectors)
    member = np.full(len(vectors), -1, dtype=np.intp)
    generators: list[FloatArray] = []
    for k in range(len(vectors)):
        if member[k] >= 0:
            continue
        same = (np.linalg.norm(np.cross(unit[k], unit), axis=1) < _SAME_DIRECTION) & (member < 0)
        member[same] = len(generators)
        generators.append(vectors[same].sum(axis=0))
    return member, np.array(generators)


def _farthest_pair(unit: FloatArray) -> list[int]:
    sines = np.linalg.norm(np.cross(unit[:, None, :], unit[None, :, :]), axis=2)
    return [int(k) for k in np.unravel_index(sines.argmax(), sines.shape)]


def _lift(generators: FloatArray) -> FloatArray:
    """Second aim that decides between drives of equal light: a dome over the chromaticity diagram.

    It is strictly bent along every line of chromaticities, so it never leaves a tie, and its most lies
    with mixing near neighbours.
    """
    size = generators.sum(axis=1)
    chromaticity = generators[:, :2] / size[:, None]
    middle = chromaticity.mean(axis=0)
    lift: FloatArray = -size * ((chromaticity - middle) ** 2).sum(axis=1)
    return lift


def _dual(a: FloatArray, b: FloatArray, normal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Vectors whose dot product with a point of the plane gives its share of ``a`` and of ``b``."""
    for_a, for_b = np.cross(b, normal), np.cross(a, normal)
    return for_a / (a @ for_a), for_b / (b @ for_b)
