"""Checks: what does not fit in a run of stills, each in one sentence that names the still.

Limits are own arithmetic, set on rendered stills so that a sound run stays silent.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake
from onecrew.stills.kit import LampWhite
from onecrew.stills.regions import block_means
from onecrew.stills.registration import SURE_PEAK, Shift, edges, moved_back, shift_between
from onecrew.stills.shotlist import Shot
from onecrew.stills.stack import Plate
from onecrew.stills.transfer import Curve

MOST_SHIFT = 1 / 48
"""Of the picture's width: more than that and the view is another one."""
_EXPOSURE_STOPS = 0.1
_ALIKE_STOPS, _ALIKE_SHARE = 0.25, 0.7
_LOG_BLACK = 0.06
"""Code value, 0–1: log curves have black at 0.07 to 0.13, others near 0."""
_RATIO_STOPS = 0.15
_PAIR_STOPS = 0.8
_MOVED_STOPS = 0.5
_MOVED_SHARE = 0.03
_CLIPPED_SHARE = 0.02
"""Of the picture: a bulb that is in it clips, and so does what shines."""


def exposures(plates: Sequence[Plate]) -> list[str]:
    """Name the stills whose metadata say another exposure than most, or that a setting was automatic."""
    notes = []
    known = {p.name: p.metadata.exposure_stops for p in plates if p.metadata.exposure_stops is not None}
    if len(known) > 1:
        usual = float(np.median(list(known.values())))
        for name, stops in known.items():
            if abs(stops - usual) > _EXPOSURE_STOPS:
                notes.append(
                    f"{name} says it was exposed {stops - usual:+.1f} stops against the others: lock the "
                    "exposure and take it again"
                )
    for what, automatic in (
        ("exposure", [p.name for p in plates if p.metadata.auto_exposure]),
        ("white balance", [p.name for p in plates if p.metadata.auto_white_balance]),
    ):
        if automatic:
            notes.append(
                f"{automatic[0]} says that {what} was automatic: set it by hand and take the stills again"
            )
    return notes


def automatic(lit: Sequence[FloatArray], dark: FloatArray) -> list[str]:
    """Say so where all stills are about as bright, as automatic exposure makes them. All are (h, w, 3)."""
    if len(lit) < 4:
        return []
    means = np.log2([max(float(one.mean()), 1e-6) for one in lit])
    alike = float((np.abs(means - np.median(means)) < _ALIKE_STOPS).mean())
    lifted = float(dark.mean()) > 0.5 * float(np.exp2(np.median(means)))
    if alike >= _ALIKE_SHARE or lifted:
        return ["all stills are about as bright, as if exposure were automatic: lock it and take them again"]
    return []


def black(dark: FloatArray, curve: Curve) -> list[str]:
    """Say so where the dark still is black by another kind of curve than the one named."""
    code = float(curve.encode(np.median(dark)))
    if not curve.is_log and code > _LOG_BLACK:
        return [
            f"the dark still is grey (code {100 * code:.0f} %), as log curves have it: is {curve.name} right?"
        ]
    if curve.is_log and code < float(curve.encode(0.0)) - _LOG_BLACK / 2.0:
        return [f"the dark still is darker than {curve.name} has black: it may be another curve"]
    return []


def lamp_shows(plate: Plate, dark: FloatArray, lamp: str) -> list[str]:
    """Say so where a still has no more light than the dark one."""
    more = block_means(plate.linear - dark).max(axis=1)
    if float(np.quantile(more, 0.98)) > 2.0 * float(np.median(block_means(plate.grain))):
        return []
    return [f"{plate.name} shows no light of {lamp}: see that it is on, and take the still again"]


def clipped(lamp: str, plates: Sequence[Plate], clip: float) -> list[str]:
    """Say so where all stills of a lamp in one white are clipped in more than a highlight."""
    share = float(np.logical_and.reduce([plate.peak >= clip for plate in plates]).mean())
    if share <= _CLIPPED_SHARE:
        return []
    return [
        f"{plates[-1].name} is clipped in {100 * share:.0f} % of the picture: {lamp} is predicted too dark "
        "and in another colour there; take it again with less light"
    ]


def ratios(lamp: str, shown: Sequence[tuple[Shot, float, Plate]], dark: FloatArray, clip: float) -> list[str]:
    """Say so where two stills of a lamp in one white do not differ as their outputs do."""
    notes = []
    for (before, less, one), (after, more, other) in pairwise(shown):
        if (before.cct_k, before.duv) != (after.cct_k, after.duv) or less == more:
            continue
        good = (np.maximum(one.peak, other.peak) < clip).astype(np.float64)
        light = [block_means(plate.linear - dark, good).mean(axis=1) for plate in (one, other)]
        grain = max(float(np.median(block_means(plate.grain))) for plate in (one, other))
        bright = np.minimum(*light) > max(8.0 * grain, 0.25 * float(np.quantile(np.minimum(*light), 0.98)))
        bright &= block_means(good) > 0.99
        if bright.sum() < 10:
            continue
        off = float(np.median(np.log2(light[1][bright] / light[0][bright])) - np.log2(more / less))
        if abs(off) > _RATIO_STOPS:
            notes.append(
                f"{one.name} and {other.name} show {lamp} {abs(off):.2f} stop away from the ratio of their "
                "outputs: another curve than the one named, or automatic exposure"
            )
    return notes


def pairs(
    lamp: str, shown: Sequence[tuple[Plate, LampWhite, float]], dark: FloatArray, clip: float
) -> list[str]:
    """Say so where a lamp's stills, each with its white and output, differ in more than its white."""
    notes = []
    for (one, before, less), (other, after, more) in pairwise(shown):
        good = (np.maximum(one.peak, other.peak) < clip).astype(np.float64)
        light = [block_means((plate.linear - dark)[:, :, 1], good) for plate in (one, other)]
        grain = float(np.median(block_means(other.grain)))
        bright = np.minimum(*light) > max(8.0 * grain, 0.05 * float(np.quantile(light[0], 0.98)))
        bright &= block_means(good) > 0.99
        if bright.sum() < 30:
            continue
        ratio = np.log2(light[1][bright] / light[0][bright])
        expected = float(np.log2(after.xyz[1] * more / (before.xyz[1] * less)))
        middle = float(np.median(ratio))
        if abs(middle - expected) > _PAIR_STOPS:
            notes.append(
                f"{one.name} and {other.name} differ by {middle:+.1f} stops of light where {lamp} gives "
                f"{expected:+.1f}: exposure changed between them, or the list is wrong"
            )
        elif float((np.abs(ratio - middle) > _MOVED_STOPS).mean()) > _MOVED_SHARE:
            notes.append(
                f"something moved between {one.name} and {other.name}: the person, or a thing; where it did, "
                "levels are less sure"
            )
    return notes


def registered(plates: Sequence[Plate]) -> tuple[list[Plate], FloatArray, list[str]]:
    """Lay every still where most of them are; return them, all their edges, and a note for each that was
    moved.

    Raises ``Mistake`` with the name of one that shows another view.
    """
    found = [edges(plate.linear) for plate in plates]
    together = np.sum([one / max(float(one.mean()), 1e-9) for one in found], axis=0)
    moved, notes = [], []
    for plate, own in zip(plates, found, strict=True):
        rest = together - own / max(float(own.mean()), 1e-9)
        shift = shift_between(own, rest)
        if shift.peak < SURE_PEAK or shift.far < 0.5:
            moved.append(plate)
            continue
        moved.append(shifted(plate, shift))
        notes.append(
            f"{plate.name} is shifted by {_pixels(plate, shift)} pixels against the others; that was fixed"
        )
    return moved, together, notes


def shifted(plate: Plate, shift: Shift) -> Plate:
    """Return a still laid back by a shift; raises ``Mistake`` where it is too far."""
    if shift.far > MOST_SHIFT * plate.size[0]:
        raise Mistake(
            f"{plate.name} is shifted by {_pixels(plate, shift)} pixels, too far to fix: the camera moved; "
            "take the stills again from one place"
        )
    return Plate(
        plate.name,
        moved_back(plate.linear, shift, 0.0),
        moved_back(plate.peak, shift, 1.0),
        moved_back(plate.cut, shift, 1.0),
        moved_back(plate.grain, shift, 0.0),
        plate.metadata,
        plate.digest,
        plate.factor,
        plate.histogram,
    )


def _pixels(plate: Plate, shift: Shift) -> str:
    return f"{abs(shift.x) * plate.factor} × {abs(shift.y) * plate.factor}"
