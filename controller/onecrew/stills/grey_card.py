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
from onecrew.fixtures.calibration import Calibration
from onecrew.fixtures.calibration_plan import question, reading, refuse_without_tint
from onecrew.fixtures.closing_check import Closing, Left
from onecrew.show.light import White
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture, Reading
from onecrew.stills import checks
from onecrew.stills.camera_meter import Card, Difference, differences, never_worse
from onecrew.stills.kit import Lamp
from onecrew.stills.regions import Box, cells
from onecrew.stills.run import curve_of, still_in
from onecrew.stills.shotlist import AS_IT_WAS, CORRECTED, Shot, ShotList
from onecrew.stills.stack import NEAR_FULL, Plate, alike, read_plate
from onecrew.stills.transfer import Curve
from onecrew.stills.views import View

MIDDLE: Box = (0.4, 0.4, 0.2, 0.2)
"""Where the card is taken to be: the middle fifth of the picture, each way."""
_CLIPPED, _CUT = 0.02, 0.02
"""Shares of a card that may be clipped, or cut off at code 0."""
_NO_GRAIN = 0.5
"""Share of a card whose channel is at its very highest value: what is not clipped has grain (own choice)."""
_CLIPS_FROM = 0.75
"""Code value below which no camera clips: log curves do from 0.8 on (from memory)."""
_DARK_STEPS = 8.0
"""So many steps of code a card needs to say anything."""
_UNEVEN = 0.35
_UNLEVELLED_STOPS = 0.4
"""Stops between the lamps from which the light is said to differ (own choice)."""
_THEIRS, _MINE = 1, 2
"""Which samples of their kinds the two lamps are before the drawn cameras."""
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
    closing: tuple[Reading, ...] = (),
) -> Metered:
    """Return what a grey card's stills say of ``fixture`` against ``other``.

    ``corrected``: they were taken with the fixture's readings in place; else its whites are as asked without.
    ``closing``: the readings whose closing check is among them, which then counts as well.
    Raises ``Mistake`` and ``Trouble``: a file that cannot be read, a card outside the picture, no still of
    one of the lamps that shows a card.
    """
    refuse_without_tint(fixture, profiles)
    bare = fixture.model_copy(update={"even": False} if corrected else {"calibration": (), "even": False})
    lamps = {fixture.id: Lamp(bare, profiles), other.id: Lamp(other, profiles)}
    pictures = _pictures(folder, listed, lamps, box, curve)
    notes = [*pictures.notes]
    mine, theirs = (pictures.cards(name, lamps[name], notes) for name in lamps)
    views = View(lamps[other.id], _THEIRS), View(lamps[fixture.id], _MINE)
    more, corrected_ones = _closing_cards(pictures, lamps[fixture.id], closing)
    other_cards, cards = [card for card, _ in theirs], [card for card, _ in (*mine, *more)]
    apart = differences(other_cards, cards, views, curve_known=pictures.curve_known, beside=corrected_ones)
    notes += [
        f"at {1e6 / one.mired:.0f} K it looks too far off to be corrected at once: go through the run once "
        "more when these readings are stored"
        for one in apart
        if one.beyond_one_step and not one.beyond_whites
    ]
    notes += [
        f"at {1e6 / one.mired:.0f} K it looks more than Duv 0.05 from white, too far to be called one: it is "
        "corrected only so far, so look at both lamps before you shoot"
        for one in apart
        if one.beyond_whites
    ]
    if not pictures.curve_known:
        notes += _unlevelled(fixture.id, mine, other.id, theirs)
    brighter = _brighter([*mine, *more], theirs)
    middle = float(np.median(list(brighter.values()))) if brighter else 0.0
    readings = tuple(_reading(bare, profiles, one, brighter, middle) for one in apart)
    return Metered(apart, readings, middle / float(np.log(2.0)), tuple(notes))


def closing_check(
    fixture: Fixture,
    other: Fixture,
    profiles: Mapping[str, Profile],
    readings: tuple[Reading, ...],
    folder: Path,
    listed: ShotList,
    box: Box = MIDDLE,
    curve: str | None = None,
) -> tuple[Closing, Metered]:
    """Return what is left between ``fixture`` and ``other``, as it was and with ``readings``, and what all
    stills say.

    ``listed`` has the stills of ``card_run``, the first ones and those of the closing check. Raises as
    ``metered``.
    """
    plain = {"even": False}
    was, corrected = (
        Lamp(fixture.model_copy(update=update), profiles)
        for update in (plain, {**plain, "calibration": readings})
    )
    theirs = Lamp(other, profiles)
    pictures = _pictures(folder, listed, {fixture.id: was, other.id: theirs}, box, curve)
    cards, view = [card for card, _ in pictures.cards(other.id, theirs, [])], View(theirs, _THEIRS)

    def left(lamp: Lamp, how: str) -> tuple[Left, ...]:
        seen = [card for card, _ in pictures.cards(fixture.id, lamp, [], how)]
        apart = differences(cards, seen, (view, View(lamp, _MINE)), curve_known=pictures.curve_known)
        return tuple(Left(float(np.hypot(*one.shift)), None) for one in apart)

    found = Closing(left(was, AS_IT_WAS), left(corrected, CORRECTED))
    return found, metered(fixture, other, profiles, folder, listed, box, curve, closing=readings)


def _closing_cards(
    pictures: _Pictures, bare: Lamp, readings: tuple[Reading, ...]
) -> tuple[list[tuple[Card, float]], list[Card]]:
    """The lamp's cards of a closing check: as it was, and corrected, by what it was asked for then."""
    if not readings:
        return [], []
    calibration = Calibration([readings])
    found = []
    for card, _ in pictures.cards(bare.id, bare, [], CORRECTED):
        mired, duv = calibration.correct([card.mired], [card.duv])
        found.append(replace(card, mired=float(mired[0]), duv=float(duv[0])))
    return pictures.cards(bare.id, bare, [], AS_IT_WAS), found


def clipped(card: Plate) -> bool:
    """Return whether the camera clips at a card: just under full code, or, as log curves do, below that.

    A card that is the brightest thing in a picture piles up at one code as clipped light does; what tells the
    two apart is grain.
    """
    top = card.linear.max(axis=(0, 1))
    without_grain = (card.linear == top).mean(axis=(0, 1)) > _NO_GRAIN
    at_the_end = float((card.peak >= NEAR_FULL).mean()) > _CLIPPED
    return at_the_end or (bool(without_grain.any()) and float(card.peak.max()) > _CLIPS_FROM)


def light_of(card: Plate) -> float:
    """Return the light of a card in a still, linear: its green."""
    return float(card.linear[..., 1].mean())


def card_in(plate: Plate, box: Box) -> Plate:
    """Return the part of a still where the card is; raises ``Mistake`` for a place outside the picture."""
    at = cells(box, plate.size, plate.factor, "card", plate.name)
    return replace(
        plate, linear=plate.linear[at], peak=plate.peak[at], cut=plate.cut[at], grain=plate.grain[at]
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Pictures:
    """The card as the stills show it."""

    shots: tuple[Shot, ...]
    plates: tuple[Plate, ...]
    curve_known: bool
    notes: tuple[str, ...]

    def cards(self, name: str, lamp: Lamp, notes: list[str], how: str = "") -> list[tuple[Card, float]]:
        """The card under a lamp, dark taken off, and its light; raises ``Mistake`` where no still shows it.

        With ``how`` of the stills of that kind alone. What is left out is noted.
        """
        dark = [plate.linear for plate, shot in self._of(None)]
        black = np.mean(dark, axis=(0, 1, 2)) if dark else np.zeros(3)
        found, left_out = [], []
        for plate, shot in self._of(name):
            if shot.how != how:
                continue
            if fault := _fault(plate, black):
                left_out.append(f"{shot.file} {fault}; it is left out")
            else:
                found.append(_card(plate, black, lamp, shot))
        if not found:
            why = f": {left_out[-1]}" if left_out else ""
            raise Mistake(f"no still shows the card under {' '.join(filter(None, (name, how)))}{why}")
        notes += left_out
        return found

    def _of(self, name: str | None) -> list[tuple[Plate, Shot]]:
        both = zip(self.plates, self.shots, strict=True)
        return [(plate, shot) for plate, shot in both if shot.lamp == name]


def _pictures(
    folder: Path, listed: ShotList, lamps: Mapping[str, Lamp], box: Box, curve: str | None
) -> _Pictures:
    shots = tuple(shot for shot in listed.shots if shot.lamp in (None, *lamps))
    for name in lamps:
        if not any(shot.lamp == name for shot in shots):
            raise Mistake(f"no still of the list shows {name}; it needs the card under both lamps")
    listed = replace(listed, shots=shots)
    paths = [still_in(folder, shot.file) for shot in shots]
    how, notes = curve_of(listed, paths, curve, lamps)
    plates = _crops(paths, how, box)
    if not any(shot.lamp is None for shot in shots):
        notes = [
            *notes,
            "there is no dark still, so other light counts as none; take one with every lamp out",
        ]
    known = how.name == "linear" or curve is not None or listed.curve is not None
    return _Pictures(shots, tuple(plates), known, (*notes, *checks.exposures(plates)))


def _crops(paths: Sequence[Path], how: Curve, box: Box) -> list[Plate]:
    """The card in each still."""
    crops: list[Plate] = []
    first = None
    for path in paths:
        plate = read_plate(path, how)
        first = first or plate
        if plate is not first:
            alike([first, plate])
        crops.append(card_in(plate, box))
    alike(crops)
    return crops


def _fault(plate: Plate, black: FloatArray) -> str:
    """Why a still says nothing of the card; empty if it does."""
    light = plate.linear.mean(axis=(0, 1)) - black
    if clipped(plate):
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


def _unlevelled(
    lamp: str, mine: Sequence[tuple[Card, float]], other: str, theirs: Sequence[tuple[Card, float]]
) -> list[str]:
    """A sentence where the card is brighter under one lamp: an unknown curve then looks like colour."""
    own, others = (np.median([card.log_rgb[1] for card, _ in cards]) for cards in (mine, theirs))
    stops = float(own - others) / float(np.log(2.0))
    if abs(stops) < _UNLEVELLED_STOPS:
        return []
    bright, weak = (lamp, other) if stops > 0.0 else (other, lamp)
    return [
        f"the card is {abs(stops):.1f} stops brighter under {bright} than under {weak}: stills with {bright} "
        "lowered by that, or the camera's curve named with --curve, would be surer"
    ]


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
    white = White(cct_k=round(1e6 / one.mired, 1), duv=round(one.duv, 5) + 0.0)
    asked = question(bare, profiles, white)
    mired, duv = one.read_as
    off = brighter.get((one.mired, one.duv), middle) - middle
    light = never_worse(np.array([off]), np.array([[_LIGHT**2]]))
    return reading(asked, 1e6 / mired, duv, asked.promised * float(np.exp(light[0])))
