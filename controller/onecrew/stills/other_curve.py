"""Another curve: whether stills and reference add up better when their codes are read by some other curve."""

from __future__ import annotations

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.stills.regions import block_means
from onecrew.stills.run import Run
from onecrew.stills.solve import FLOOR, LUMA
from onecrew.stills.stack import Plate
from onecrew.stills.transfer import CURVES, Curve

_CANDIDATES = ("linear", "srgb", "bt709", "bt1886", "logc3", "logc4", "slog3", "vlog", "canonlog3", "flog2")
_SUSPECT = 0.05
"""Misfit of the sums, as a share of the picture's own contrast, from which other curves are tried."""
_BETTER = 0.45
"""Set on rendered stills: with the curve that is right another one hardly comes below half the misfit."""
_ABOUT = 1.3
_MOST_BLOCKS = 500


def better_curve(run: Run, reference: Plate) -> str | None:
    """Return the curve, or curves, by which the reference is a clearly better sum of the stills, or None."""
    clipped = block_means((reference.peak >= run.clip).astype(np.float64)) > 0.0
    for shown in run.lamps:
        clipped |= (
            block_means(shown.doubt).mean(axis=1) > 0.3 * block_means(shown.light[0]).mean(axis=1) + 0.01
        )
    counts = np.flatnonzero(~clipped)
    if len(counts) < 50:
        return None
    counts = counts[np.linspace(0, len(counts) - 1, min(len(counts), _MOST_BLOCKS)).astype(np.intp)]
    stills = [block_means(run.ambient)[counts]]
    for shown in run.lamps:
        stills += [block_means(still)[counts] + stills[0] for still in shown.light]
    target = block_means(reference.linear)[counts]
    # The one still of a lamp of many whites says nothing of its colour in the reference.
    grey = any(len(shown.light) == 1 and not shown.lamp.one_colour for shown in run.lamps)
    usual = _misfit(stills, target, grey)
    if usual < _SUSPECT:
        return None
    found: dict[str, float] = {}
    for name in _CANDIDATES:
        curve = CURVES[name]
        if curve.name != run.curve.name:
            found[curve.name] = _misfit(
                [_read_by(run, curve, one) for one in stills], _read_by(run, curve, target), grey
            )
    best = min(found.values())
    if best > _BETTER * usual:
        return None
    return " or ".join(name for name, off in found.items() if off < _ABOUT * best)


def _read_by(run: Run, curve: Curve, light: FloatArray) -> FloatArray:
    return np.asarray(curve.decode(np.clip(run.curve.encode(light), 0.0, 1.0)))


def _misfit(stills: list[FloatArray], target: FloatArray, grey: bool) -> float:
    """Median of how far, as a share, the nearest non-negative sum of the stills is from the target, against
    the target's contrast: a curve that makes everything alike would fit everything."""
    from scipy.optimize import nnls

    if grey:
        stills, target = [still @ LUMA[:, None] for still in stills], target @ LUMA[:, None]
    ambient = stills[0]
    scale = 1.0 / np.maximum(target, FLOOR * max(float(np.quantile(target, 0.98)), 1e-9) * 8.0)
    matrix = np.stack([((still - ambient) * scale).ravel() for still in stills[1:]], axis=1)
    aim = ((target - ambient) * scale).ravel()
    size = np.maximum(np.linalg.norm(matrix, axis=0), 1e-12)
    parts = nnls(matrix / size, aim, maxiter=40 * matrix.shape[1])[0] / size
    logs = np.log(np.maximum(target, 1e-9))
    contrast = float(np.median(np.abs(logs - np.median(logs, axis=0))))
    return float(np.median(np.abs(matrix @ parts - aim))) / max(contrast, 1e-6)
