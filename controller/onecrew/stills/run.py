"""Run: a run of stills read, checked and ready to be blended into any levels and whites."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake
from onecrew.show.profile import Profile
from onecrew.show.show import Show
from onecrew.stills import checks
from onecrew.stills.blend import blend
from onecrew.stills.kit import Lamp, LampWhite
from onecrew.stills.ladder import curve_from_ladder, ladder_of
from onecrew.stills.registration import SURE_PEAK, edges, shift_between
from onecrew.stills.shotlist import Shot, ShotList
from onecrew.stills.stack import Plate, alike, clip_code, read_plate
from onecrew.stills.transfer import Curve, curve_called

CUT_SHARE = 0.03
"""How much a channel that is cut off at code 0 may hide below 0, as a share of the strongest channel."""
_BY_LADDER = frozenset({"ladder", "unknown", "look", "camera"})

Stills = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """One lamp as its stills show it."""

    lamp: Lamp
    givens: tuple[LampWhite, ...]
    """The white of each still below, at full output."""
    whites: tuple[LampWhite, ...]
    """The whites that may be solved for, by rising mired."""
    light: Stills
    """(stills, h, w, 3), linear, ambient taken off, at full output; stills of one white are one."""
    doubt: Stills
    """(h, w, 3), standard deviation of that light; as large as the light where it is clipped."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A run of stills."""

    lamps: tuple[Shown, ...]
    ambient: FloatArray
    """(h, w, 3), linear."""
    factor: int
    clip: float
    """Code value, 0–1, from which pixels are clipped."""
    curve: Curve
    white_balance_k: float | None
    exposure_stops: float | None
    """As the metadata say, against 1 s, f/1, ISO 100."""
    notes: tuple[str, ...]
    edges: FloatArray = field(repr=False)
    """(h, w), of all stills together."""

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in working pixels."""
        return self.ambient.shape[1], self.ambient.shape[0]

    def predicted(self, xyz: Sequence[FloatArray]) -> FloatArray:
        """Return the picture (h, w, 3) for what each lamp gives, exposed as the stills are."""
        picture = self.ambient.copy()
        for shown, light in zip(self.lamps, xyz, strict=True):
            if light[1] > 0.0:
                picture += blend(LampWhite(mired_of(light), light), shown.givens).of(shown.light)
        return picture

    def another_size(self, picture: Plate) -> Mistake:
        return Mistake(f"{picture.name} has another size than the stills, so it is no frame of theirs")

    def placed(self, reference: Plate, notes: list[str], must: bool) -> Plate | None:
        """Return a reference laid where the stills are, or None where it is no picture of their size and
        view.

        Raises ``Mistake`` for that where it ``must`` be one.
        """
        if reference.size != self.size or reference.factor != self.factor:
            if must:
                raise self.another_size(reference)
            return None
        shift = shift_between(edges(reference.linear), self.edges)
        if shift.peak < SURE_PEAK or shift.far < 0.5:
            return reference
        if shift.far > checks.MOST_SHIFT * reference.size[0] and not must:
            return None
        moved = checks.shifted(reference, shift)
        notes.append(
            f"{reference.name} is shifted by {abs(shift.x) * self.factor} × {abs(shift.y) * self.factor} "
            "pixels against the stills; that was fixed"
        )
        return moved


def mired_of(xyz: FloatArray) -> float:
    """Return the mired of the white nearest to a light (3,)."""
    from onecrew.colour.locus_table import uv76_to_white_fast
    from onecrew.colour.spaces import xy_to_uv76, xyz_to_xy

    return float(uv76_to_white_fast(xy_to_uv76(xyz_to_xy(xyz)))[0])


def read_run(
    show: Show, profiles: Mapping[str, Profile], folder: Path, listed: ShotList, curve: str | None = None
) -> Run:
    """Read and check a run of stills. Raises ``Mistake`` and ``Trouble``, one sentence for each fault."""
    fixtures = _lamps(show, profiles, listed)
    paths = [still_in(folder, shot.file) for shot in listed.shots]
    how, notes = curve_of(listed, paths, curve, fixtures)
    plates = [read_plate(path, how) for path in paths]
    alike(plates)
    notes += checks.exposures(plates)
    clip = clip_code(plates)
    plates, together, shifts = checks.registered(plates)
    notes += shifts
    dark = [plate for plate, shot in zip(plates, listed.shots, strict=True) if shot.lamp is None]
    if not dark:
        notes.append("there is no dark still, so ambient light counts as none; take one with every lamp out")
    ambient = np.mean([plate.linear for plate in dark], axis=0) if dark else np.zeros_like(plates[0].linear)
    lit = [plate.linear for plate, shot in zip(plates, listed.shots, strict=True) if shot.lamp is not None]
    if max(float(np.quantile(one, 0.99)) for one in lit) < 4.0 / 255.0 / 12.92:
        raise Mistake("all stills are black; open the lens or raise the lamps, and take them again")
    notes += checks.automatic(lit, ambient)
    notes += checks.black(ambient, how) if dark else []
    lamps = []
    for lamp in fixtures.values():
        mine = [i for i, shot in enumerate(listed.shots) if shot.lamp == lamp.id]
        lamps.append(
            _shown(lamp, [listed.shots[i] for i in mine], [plates[i] for i in mine], ambient, clip, notes)
        )
    missing = [fixture.id for fixture in show.rig.fixtures if fixture.id not in fixtures]
    if missing:
        notes.append(f"no still shows {', '.join(missing)}: left out, so keep {_it(missing)} dark")
    told = [p.metadata.exposure_stops for p in plates if p.metadata.exposure_stops is not None]
    return Run(
        lamps=tuple(lamps),
        ambient=ambient,
        factor=plates[0].factor,
        clip=clip,
        curve=how,
        white_balance_k=listed.white_balance_k,
        exposure_stops=float(np.median(told)) if told else None,
        notes=tuple(notes),
        edges=together,
    )


def _it(names: Sequence[str]) -> str:
    return "it" if len(names) == 1 else "them"


def _lamps(show: Show, profiles: Mapping[str, Profile], listed: ShotList) -> dict[str, Lamp]:
    """The lamps of the list, in the order of the rig."""
    named = {shot.lamp for shot in listed.shots if shot.lamp is not None}
    known = {fixture.id for fixture in show.rig.fixtures}
    for shot in listed.shots:
        if shot.lamp is not None and shot.lamp not in known:
            raise Mistake(
                f"{shot.file} shows '{shot.lamp[:40]}', which is no lamp of this show; "
                f"it has {', '.join(sorted(known)) or 'none yet'}"
            )
    if not named:
        raise Mistake("the list shows no lamp; name the lamp of each still, null for the dark one")
    return {f.id: Lamp(f, profiles) for f in show.rig.fixtures if f.id in named}


def still_in(folder: Path, file: str) -> Path:
    path = folder / file
    if not path.resolve().is_relative_to(folder.resolve()):
        raise Mistake(
            f"the list names {file[:80]}, which lies outside {folder}; put the stills in one folder"
        )
    if not path.is_file():
        raise Mistake(f"the list names {file[:80]}, and there is no such file in {folder}")
    return path


def curve_of(
    listed: ShotList, paths: Sequence[Path], said: str | None, lamps: Mapping[str, Lamp]
) -> tuple[Curve, list[str]]:
    """The stills' curve: as told, from a ladder, or what the metadata say."""
    name = said or listed.curve
    steps = ladder_of(listed.shots)
    if name is not None and name.lower() not in _BY_LADDER:
        return curve_called(name), []
    if not steps:
        if name is not None:
            raise Mistake(
                "the curve is to come from a ladder, and no lamp has stills at five outputs or more"
            )
        return curve_called("sRGB"), ["no curve is named; the stills were read as sRGB"]
    coded = curve_called("linear")
    plates = [read_plate(paths[i], coded) for i in steps]
    alike(plates)
    shots = [listed.shots[i] for i in steps]
    outputs = np.array([lamps[shot.lamp or ""].output(shot) for shot in shots])
    dark = [i for i, shot in enumerate(listed.shots) if shot.lamp is None]
    black = read_plate(paths[dark[0]], coded).linear if dark else np.zeros_like(plates[0].linear)
    codes = np.stack([_smooth(plate.linear) for plate in plates])
    found = curve_from_ladder(codes, outputs, _smooth(black), clip_code(plates))
    return found, [f"the curve was found from the {len(steps)} steps of {shots[0].lamp}"]


def _smooth(picture: FloatArray) -> FloatArray:
    """Means over 3 × 3 pixels, laid flat: noise off, and no edge matters much."""
    height, width = picture.shape[0] // 3 * 3, picture.shape[1] // 3 * 3
    parts = picture[:height, :width].reshape(height // 3, 3, width // 3, 3, 3)
    return np.asarray(parts.mean(axis=(1, 3)).reshape(-1))


def _shown(
    lamp: Lamp,
    shots: Sequence[Shot],
    plates: Sequence[Plate],
    ambient: FloatArray,
    clip: float,
    notes: list[str],
) -> Shown:
    outputs = [lamp.output(shot) for shot in shots]
    for shot, output in zip(shots, outputs, strict=True):
        if output <= 0.0:
            raise Mistake(f"{shot.file} shows {lamp.id} at output 0; list it as dark, or say its output")
    givens = [lamp.given(shot) for shot in shots]
    order = sorted(range(len(shots)), key=lambda i: (givens[i].mired or 0.0, -outputs[i]))
    shots, plates = [shots[i] for i in order], [plates[i] for i in order]
    outputs, givens = [outputs[i] for i in order], [givens[i] for i in order]
    for plate in plates:
        notes += checks.lamp_shows(plate, ambient, lamp.id)
    notes += checks.ratios(lamp.id, list(zip(shots, outputs, plates, strict=True)), ambient, clip)
    whites: dict[float | None, list[int]] = {}
    for i, given in enumerate(givens):
        whites.setdefault(given.mired, []).append(i)
    firsts = [group[0] for group in whites.values()]
    shown = [(plates[i], givens[i], outputs[i]) for i in firsts]
    notes += checks.pairs(lamp.id, shown, ambient, clip)
    light, doubt = [], np.zeros_like(ambient)
    for group in whites.values():
        notes += checks.clipped(lamp.id, [plates[i] for i in group], clip)
        one, unsure = _together([plates[i] for i in group], [outputs[i] for i in group], ambient, clip)
        light.append(one)
        doubt = np.maximum(doubt, unsure)
    solved = sorted(lamp.whites(shots), key=lambda given: given.mired or 0.0)
    return Shown(
        lamp,
        tuple(givens[i] for i in firsts),
        tuple(solved),
        np.stack(light).astype(np.float32),
        doubt.astype(np.float32),
    )


def _together(
    plates: Sequence[Plate], outputs: Sequence[float], ambient: FloatArray, clip: float
) -> tuple[FloatArray, FloatArray]:
    """One white's light at full output, from its stills: the brightest that are not clipped count most."""
    total, weights = np.zeros_like(ambient), np.zeros(ambient.shape[:2])
    doubt = np.full_like(ambient, np.inf)
    for plate, output in zip(plates, outputs, strict=True):
        good = plate.peak < clip
        light = (plate.linear - ambient) / output
        weight = np.where(good, output**2, 1e-6 * output)
        total += light * weight[:, :, None]
        weights += weight
        hidden = CUT_SHARE * plate.cut * np.maximum(light.max(axis=2, keepdims=True), 0.0)
        unsure = np.hypot(plate.grain / output, hidden)
        unknown = np.maximum(light, float(np.quantile(light, 0.95)))  # clipped, or not in the picture
        doubt = np.minimum(doubt, np.where(good[:, :, None], unsure, np.maximum(unknown, unsure)))
    return total / weights[:, :, None], doubt
