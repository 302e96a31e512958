"""Grey card: pictures of a card under two lamps → readings of one lamp, as if by a meter that the other set.

The stills come as a list (``shotlist``): a dark one, and the card under each lamp alone at some whites. The
whites of the lamp to be read are as the lamp without readings was asked; those of the other one as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.colour.locus_table import nearest_white_fast
from onecrew.colour.spaces import xy_to_uv76, xyz_to_xy
from onecrew.errors import Mistake
from onecrew.fixtures.calibration_plan import SOME_TINT, question, reading
from onecrew.show.light import White
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture, Reading
from onecrew.stills import checks
from onecrew.stills.camera_meter import Card, Difference, differences, never_worse
from onecrew.stills.kit import Lamp
from onecrew.stills.regions import Box, cells
from onecrew.stills.run import curve_of, still_in
from onecrew.stills.shotlist import Shot, ShotList
from onecrew.stills.stack import Plate, alike, clip_code, read_plate
from onecrew.stills.transfer import Curve

MIDDLE: Box = (0.4, 0.4, 0.2, 0.2)
"""Where the card is taken to be: the middle fifth of the picture, each way."""
_CLIPPED, _CUT = 0.02, 0.02
"""Shares of a card that may be clipped, or cut off at code 0."""
_DARK_STEPS = 8.0
"""So many steps of code a card needs to say anything."""
_UNEVEN = 0.35
_LIGHT = 0.03
"""Spread of log light that a camera's green tells."""


@dataclass(frozen=True, slots=True, eq=False)
class Metered:
    """What the stills say of a lamp."""

    differences: tuple[Difference, ...]
    readings: tuple[Reading, ...]
    stops: float
    """How much brighter the lamp lights the card than the other one at the same output."""
    notes: tuple[str, ...]

    @property
    def worth_keeping(self) -> bool:
        """Whether any difference is surer than the stills are noisy."""
        return any(np.any(one.kept != 0.0) for one in self.differences)


def metered(
    fixture: Fixture,
    other: Fixture,
    profiles: Mapping[str, Profile],
    folder: Path,
    listed: ShotList,
    box: Box = MIDDLE,
    curve: str | None = None,
    *,
    corrected: bool = False,
) -> Metered:
    """Return what a grey card's stills say of ``fixture`` against ``other``.

    ``corrected``: they were taken with the fixture's readings in place; else its whites are as asked without.
    Raises ``Mistake`` and ``Trouble``: a file that cannot be read, a card outside the picture, no still of
    one of the lamps that shows a card.
    """
    bare = fixture.model_copy(update={"even": False} if corrected else {"calibration": (), "even": False})
    ends = [question(bare, profiles, White(cct_k=4300, duv=duv)).asked.duv for duv in (-0.01, 0.01)]
    if ends[1] - ends[0] < SOME_TINT:
        raise Mistake(f"{fixture.id} has no tint of its own, so a camera's pictures could make it worse")
    lamps = {fixture.id: Lamp(bare, profiles), other.id: Lamp(other, profiles)}
    shots = [shot for shot in listed.shots if shot.lamp in (None, *lamps)]
    for name in lamps:
        if not any(shot.lamp == name for shot in shots):
            raise Mistake(f"no still of the list shows {name}; it needs the card under both lamps")
    listed = replace(listed, shots=tuple(shots))
    paths = [still_in(folder, shot.file) for shot in shots]
    how, notes = curve_of(listed, paths, curve, lamps)
    plates, clip = _crops(paths, how, box)
    notes = [*notes, *checks.exposures(plates)]
    found = _cards(plates, shots, lamps, clip, notes)
    mine, theirs = found[fixture.id], found[other.id]
    known = how.name == "linear" or curve is not None or listed.curve is not None
    apart = differences([card for card, _ in theirs], [card for card, _ in mine], curve_known=known)
    notes += [
        f"at {1e6 / one.mired:.0f} K it looks more than Duv 0.05 from white, too far to be called one: it is "
        "corrected only so far, so look at both lamps before you shoot"
        for one in apart
        if one.beyond_whites
    ]
    brighter = _brighter(mine, theirs)
    middle = float(np.median(list(brighter.values()))) if brighter else 0.0
    readings = tuple(_reading(bare, profiles, one, brighter, middle) for one in apart)
    return Metered(apart, readings, middle / float(np.log(2.0)), tuple(notes))


def _cards(
    plates: Sequence[Plate], shots: Sequence[Shot], lamps: Mapping[str, Lamp], clip: float, notes: list[str]
) -> dict[str, list[tuple[Card, float]]]:
    """The card under each lamp, dark taken off, and its light; raises ``Mistake`` for a lamp without."""
    dark = [plate.linear for plate, shot in zip(plates, shots, strict=True) if shot.lamp is None]
    if not dark:
        notes.append("there is no dark still, so other light counts as none; take one with every lamp out")
    black = np.mean(dark, axis=(0, 1, 2)) if dark else np.zeros(3)
    found: dict[str, list[tuple[Card, float]]] = {name: [] for name in lamps}
    for plate, shot in zip(plates, shots, strict=True):
        if shot.lamp is None:
            continue
        if fault := _fault(plate, black, clip):
            notes.append(f"{shot.file} {fault}; it is left out")
            continue
        found[shot.lamp].append(_card(plate, black, lamps[shot.lamp], shot))
    for name, cards in found.items():
        if not cards:
            raise Mistake(f"no still shows the card under {name}: {notes[-1]}")
    return found


def _crops(paths: Sequence[Path], how: Curve, box: Box) -> tuple[list[Plate], float]:
    """The card in each still, and the code value from which the camera clips."""
    crops: list[Plate] = []
    first = None
    for path in paths:
        plate = read_plate(path, how)
        first = first or plate
        if plate is not first:
            alike([first, plate])
        at = cells(box, plate.size, plate.factor, "card", plate.name)
        crops.append(
            replace(
                plate, linear=plate.linear[at], peak=plate.peak[at], cut=plate.cut[at], grain=plate.grain[at]
            )
        )
    alike(crops)
    return crops, clip_code(crops)


def _fault(plate: Plate, black: FloatArray, clip: float) -> str:
    """Why a still says nothing of the card; empty if it does."""
    light = plate.linear.mean(axis=(0, 1)) - black
    if float((plate.peak >= clip).mean()) > _CLIPPED:
        return "is clipped at the card: lower the lamp or the exposure and take it again"
    if float(plate.cut.mean()) > _CUT or (light < _DARK_STEPS * plate.grain.mean(axis=(0, 1))).any():
        return "is too dark at the card: raise the lamp or the exposure and take it again"
    if float((plate.linear[..., 1].std()) / max(plate.linear[..., 1].mean(), 1e-9)) > _UNEVEN:
        return "is not even where the card should be: say with --card where it lies"
    return ""


def _card(plate: Plate, black: FloatArray, lamp: Lamp, shot: Shot) -> tuple[Card, float]:
    """The card, and its light in proportion to what the profile promises there; both as logarithms."""
    given = lamp.given(shot)
    mired, duv = nearest_white_fast(xy_to_uv76(xyz_to_xy(given.xyz))[None, :])
    light = np.maximum(plate.linear.mean(axis=(0, 1)) - black, 1e-9)
    places = plate.linear.shape[0] * plate.linear.shape[1]
    grain = (plate.linear[:, 1:] - plate.linear[:, :-1]).std(axis=(0, 1)) / np.sqrt(
        2.0 * max(places / 9.0, 1.0)
    )
    step = plate.grain.mean(axis=(0, 1)) * plate.factor / np.sqrt(12.0 * min(places, 4))
    card = Card(float(mired[0]), float(duv[0]), np.log(light), np.hypot(grain, step) / light)
    return card, float(np.log(light[1] / lamp.output(shot) / given.xyz[1]))


def _brighter(
    mine: Sequence[tuple[Card, float]], theirs: Sequence[tuple[Card, float]]
) -> dict[tuple[float, float], float]:
    """By white: log light of the lamp against the other one, where both were pictured at about that white."""
    found: dict[tuple[float, float], list[float]] = {}
    for card, light in mine:
        near = min(theirs, key=lambda one: abs(one[0].mired - card.mired) + abs(one[0].duv - card.duv) * 3e3)
        if abs(near[0].mired - card.mired) < 15.0:
            found.setdefault((card.mired, card.duv), []).append(light - near[1])
    return {white: float(np.mean(lights)) for white, lights in found.items()}


def _reading(
    bare: Fixture,
    profiles: Mapping[str, Profile],
    one: Difference,
    brighter: Mapping[tuple[float, float], float],
    middle: float,
) -> Reading:
    asked = question(bare, profiles, White(cct_k=1e6 / one.mired, duv=one.duv))
    mired, duv = one.read_as
    off = brighter.get((one.mired, one.duv), middle) - middle
    light = never_worse(np.array([off]), np.array([[_LIGHT**2]]))
    return reading(asked, 1e6 / mired, duv, asked.promised * float(np.exp(light[0])))
