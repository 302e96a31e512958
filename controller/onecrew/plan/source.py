"""Source: a lamp as a rectangle of light with a beam, and the light that it sends straight to a place.

Every point of the rectangle has the same beam. The light at a place is the sum over 9 × 9 points laid and
weighted by Gauss and Legendre, E = Σ w I(θ) cos θᵣ / d²; near the source, and where the source stands across
the plane of the receiver, the rectangle is cut into 3 × 3 first. For a Lambertian source this is the
rectangle's configuration factor (J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors).
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.plan.beam import Beam
from onecrew.plan.blocking import Block, clear
from onecrew.plan.vectors import across, direction

PATCHES = 9
NEAR = 2.0
"""Up to this many times its longer side a source is cut finer."""
FEW = 40
AT_ONCE = 1_500_000
"""Lines looked at in one piece, so that memory stays small."""


@dataclass(frozen=True, slots=True)
class Source:
    """A rectangle of light: where its middle is, where it faces (degrees), its size, its beam."""

    at: FloatArray
    """(3,), metres."""
    aim_deg: float
    tilt_deg: float
    width_m: float
    height_m: float
    beam: Beam
    candela: float
    """Intensity of the whole source on its axis."""
    roll_deg: float = 0.0
    ahead: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "ahead", direction(self.aim_deg, self.tilt_deg))

    @property
    def key(self) -> Hashable:
        """What makes two sources light a room alike but for their intensity."""
        place = tuple(round(float(each), 4) for each in self.at)
        return place, self.aim_deg, self.tilt_deg, self.roll_deg, self.width_m, self.height_m, self.beam

    @property
    def lumens(self) -> float:
        return self.candela * self.beam.lumens_per_cd

    def of_candela(self, candela: float) -> Source:
        """The same source with another intensity."""
        return replace(self, candela=candela)

    def points(self, n: int, cuts: int = 1) -> tuple[FloatArray, FloatArray]:
        """(m, 3) places on the rectangle and their shares (m,), which add up to 1."""
        u, share = _gauss(n, cuts)
        right, up = across(self.aim_deg, self.tilt_deg, self.roll_deg)
        across_w, across_h = np.meshgrid(u * self.width_m, u * self.height_m, indexing="ij")
        places = self.at + across_w.reshape(-1, 1) * right + across_h.reshape(-1, 1) * up
        return places, np.asarray(np.outer(share, share).reshape(-1), dtype=np.float64)


def illuminance(
    source: Source,
    places: FloatArray,
    normals: FloatArray,
    blocks: Sequence[Block] = (),
    n: int = PATCHES,
) -> FloatArray:
    """Direct light, lux, (k,) on small areas at ``places`` that face along unit ``normals``, (k, 3) each."""
    longest = max(source.width_m, source.height_m)
    away = np.linalg.norm(places - source.at, axis=-1)
    near = away < NEAR * longest
    across_it = np.abs(((places - source.at) * normals).sum(axis=-1)) < longest / 2
    # A few places behind something are worth the trouble of finding its edge on the source.
    edges = bool(blocks) and len(places) <= FEW
    fine = near | (across_it & (away < 4 * NEAR * longest)) | edges
    found = np.zeros(len(places))
    for rows, cuts in ((np.flatnonzero(~fine), 1), (np.flatnonzero(fine), 3)):
        if len(rows):
            found[rows] = _sum(source, places[rows], normals[rows], blocks, n, cuts)
    return found


def _sum(
    source: Source, places: FloatArray, normals: FloatArray, blocks: Sequence[Block], n: int, cuts: int
) -> FloatArray:
    points, shares = source.points(n, cuts)
    step = max(1, AT_ONCE // len(points))
    found = [
        _lines(source, points, shares, places[at : at + step], normals[at : at + step], blocks)
        for at in range(0, len(places), step)
    ]
    return np.concatenate(found)


def _lines(
    source: Source,
    points: FloatArray,
    shares: FloatArray,
    places: FloatArray,
    normals: FloatArray,
    blocks: Sequence[Block],
) -> FloatArray:
    """The sum itself; |way · a| is written out because it is what the whole forecast waits for."""
    square = ((places[:, None, :] - points) ** 2).sum(axis=-1)
    away = np.sqrt(np.maximum(square, 1e-12))
    leaving = ((places @ source.ahead)[:, None] - (points @ source.ahead)[None, :]) / away
    arriving = (normals @ points.T - (normals * places).sum(axis=-1)[:, None]) / away
    light = source.beam.shape(leaving) * np.maximum(arriving, 0.0) / np.maximum(square, 1e-12)
    if blocks:
        rows, columns = np.nonzero(light)
        light[rows, columns] *= clear(places[rows], points[columns], blocks)
    return np.asarray(source.candela * (light @ shares), dtype=np.float64)


@lru_cache(maxsize=32)
def _gauss(n: int, cuts: int) -> tuple[FloatArray, FloatArray]:
    """Points in −½…½ and their shares: Gauss–Legendre of ``n`` points in each of ``cuts`` equal parts."""
    x, w = np.polynomial.legendre.leggauss(n)
    starts = np.arange(cuts) / cuts - 0.5
    points = (starts[:, None] + (x[None, :] + 1.0) / (2.0 * cuts)).reshape(-1)
    return points, np.tile(w / (2.0 * cuts), cuts)
