"""The best-rendition mix: of all drives that give a colour, the spectrum closest to the reference illuminant.

Closeness is least squares between spectra of equal light, d ≥ 0 giving the colour exactly:

    minimise (d S − r)ᵀ W (d S − r)

``spectrum`` takes W = 1: every nanometre counts the same. ``surfaces`` takes the W that measures how
far surfaces stray in colour: the mean square of CIELAB-like differences (116 ΔY, 500 (ΔX/Xn − ΔY),
200 (ΔY − ΔZ/Zn), white D50) over all smooth reflectances, smooth meaning a Gaussian correlation along
the wavelength. On the mixes tried, ``surfaces`` gives clearly better colour rendition (Ra, TM-30) for
about the same spectral similarity (SSI); plain least squares often renders worse than the brightest mix,
because it chases the height of narrow peaks that no reference has.

No solver runs in the loop. For a given set of lit emitters the optimum is linear in the colour and in the
reference; all sets are solved at set-up (255 at most), and at run time one matrix product tries them all:
the right one is where no drive and no multiplier is below 0. The problem is strictly convex, so the drives
are unique and move continuously with the colour.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.locus_table import MIRED_MAX, MIRED_MIN
from onecrew.colour.spaces import xyy_to_xyz
from onecrew.colour.spectra import at_unit_light, reference_spectrum

Measure = Literal["surfaces", "spectrum"]

SMOOTHNESS_NM = 45.0
"""Correlation length of the reflectances that ``surfaces`` averages over. Chosen by trying 20–70 nm on
six-emitter and RGBWW mixes at 2800–6500 K: 40–50 nm renders best."""
_D50_XY = (0.3457, 0.3585)
_STEP_MIRED = 4.0
_EVENNESS = {"surfaces": 3e-3, "spectrum": 1e-6}
"""Share of the squares given to even drives. Where spectra depend on each other it is what decides; for
``surfaces`` it is large enough to count beyond that: on mixes of six to eight emitters it costs at most 0.2
in Ra and in Rf, gives up to four times the light, and keeps drives from rushing along a fade."""
_FULL_RANK = 1e-9
_MOST_PRODUCTS = 250_000
"""Multiplications in one matrix product: below what makes OpenBLAS share it out among threads, which in a
44 Hz loop costs more in waiting than it saves, and small enough for the processor's cache."""


class BestRendition:
    """Precomputed optimum of one set of emitters: ``vectors`` (n, 3) XYZ at full, ``spectra`` (n, 471)."""

    def __init__(self, vectors: FloatArray, spectra: FloatArray, measure: Measure) -> None:
        # The unknowns are the emitters' amounts of light, so that weak and strong ones weigh alike.
        self._light = vectors[:, 1]
        power = at_unit_light(spectra)
        weighted = _weigh(power, measure)
        # Squares near 1 sit well beside the constraints, whatever the unit of W.
        weighted = weighted * (len(power) / float((weighted * power).sum()))
        squares = weighted @ power.T
        squares += _EVENNESS[measure] * self._unevenness(squares)
        mired = np.arange(MIRED_MIN, MIRED_MAX + 0.5 * _STEP_MIRED, _STEP_MIRED)
        self._pull = np.concatenate(
            [reference_spectrum(1e6 / part) @ weighted.T for part in np.array_split(mired, 8)]
        )
        self._basis = _span(vectors)
        self._solve_all(squares, vectors @ self._basis / self._light[:, None])

    def _unevenness(self, squares: FloatArray) -> FloatArray:
        """Σ flux · drive² in the unknowns, in proportion to the squares of all emitters full on."""
        full_on = float(self._light @ (np.diag(squares) * self._light))
        unevenness: FloatArray = np.diag(full_on / self._light) / self._light.sum()
        return unevenness

    def _solve_all(self, squares: FloatArray, constraints: FloatArray) -> None:
        count, rank = constraints.shape
        lit: BoolArray = (np.arange(1, 2**count)[:, None] >> np.arange(count) & 1).astype(bool)
        lit = lit[lit.sum(axis=1) >= rank]
        bordered: FloatArray = np.zeros((len(lit), count + rank, count + rank))
        bordered[:, :count, :count] = np.where(lit[..., None], squares, np.eye(count))
        bordered[:, :count, count:] = np.where(lit[..., None], -constraints, 0.0)
        bordered[:, count:, :count] = constraints.T
        # Emitters that do not span every colour around them leave their set without an answer.
        solution, solved = _invert(bordered)
        solution, bordered, lit = solution[solved], bordered[solved], lit[solved]
        solution += solution @ (np.eye(count + rank) - bordered @ solution)
        # Columns act on (pull, target); an unlit emitter's row says drive = 0 and takes no pull.
        solution[:, :, :count] *= lit[:, None, :]
        slope = squares @ solution[:, :count] - constraints @ solution[:, count:]
        slope[:, :, :count] -= np.eye(count)
        verdict = np.where(lit[..., None], solution[:, :count], slope / np.diag(squares)[:, None])
        self._lit = lit
        self._verdict = np.ascontiguousarray(verdict.transpose(2, 1, 0).reshape(count + rank, -1))

    def amounts(self, rays: FloatArray, mired: FloatArray) -> FloatArray:
        """Drives (k, n), not limited to 1, that give the XYZ (k, 3), for the reference's mired (k,)."""
        at = (np.clip(mired, MIRED_MIN, MIRED_MAX) - MIRED_MIN) / _STEP_MIRED
        cell = np.minimum(at.astype(np.intp), len(self._pull) - 2)
        pull = self._pull[cell] + (at - cell)[:, None] * (self._pull[cell + 1] - self._pull[cell])
        known = np.concatenate((pull, rays @ self._basis), axis=1)
        amounts = np.empty((len(rays), self._lit.shape[1]))
        block = max(1, _MOST_PRODUCTS // self._verdict.size)
        for start in range(0, len(rays), block):
            tried = (known[start : start + block] @ self._verdict).reshape(-1, *self._lit.T.shape)
            best = tried.min(axis=1).argmax(axis=1)
            amounts[start : start + block] = tried[np.arange(len(tried)), :, best] * self._lit[best]
        drives: FloatArray = np.maximum(amounts, 0.0) / self._light
        return drives


def _weigh(power: FloatArray, measure: Measure) -> FloatArray:
    """``power`` (n, 471) times W."""
    if measure == "spectrum":
        return power
    if measure != "surfaces":
        raise ValueError(f"closeness is measured by 'surfaces' or by 'spectrum', not {measure!r}")
    nm = wavelengths_nm()
    alike = np.exp(-0.5 * ((nm[:, None] - nm[None, :]) / SMOOTHNESS_NM) ** 2)
    x_bar, y_bar, z_bar = matching_functions().T
    white_x, _, white_z = xyy_to_xyz(_D50_XY)
    weighted = np.zeros_like(power)
    for seen in (116.0 * y_bar, 500.0 * (x_bar / white_x - y_bar), 200.0 * (y_bar - z_bar / white_z)):
        weighted += (power * seen) @ alike * seen
    return weighted


def _span(vectors: FloatArray) -> FloatArray:
    """Orthonormal basis (3, r) of what the emitters span, so that no constraint is said twice."""
    unit = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    _, size, directions = np.linalg.svd(unit, full_matrices=False)
    basis: FloatArray = directions[size > _FULL_RANK].T
    return basis


def _invert(matrices: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Inverses of many small matrices (p, m, m), and which of them have one, (p,).

    Gauss–Jordan with the largest pivot, on all at once: LAPACK takes them one by one and may start threads
    for each.
    """
    size = matrices.shape[1]
    work: FloatArray = np.concatenate((matrices, np.broadcast_to(np.eye(size), matrices.shape)), axis=2)
    all_of = np.arange(len(work))
    solved = np.ones(len(work), dtype=bool)
    for k in range(size):
        row = k + np.abs(work[:, k:, k]).argmax(axis=1)
        pivot_row = work[all_of, row]
        work[all_of, row] = work[:, k]
        pivot = pivot_row[:, k]
        solved &= np.abs(pivot) > _FULL_RANK
        pivot_row = pivot_row / np.where(solved, pivot, 1.0)[:, None]
        work = work - work[:, :, k, None] * pivot_row[:, None, :]
        work[:, k] = pivot_row
    return work[:, :, size:], solved
