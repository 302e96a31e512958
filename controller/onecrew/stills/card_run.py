"""Card run: which stills of a grey card to take under two lamps, and what they come to.

First a dark one, then the card under the other lamp and under the lamp, white by white; from these follow
readings (``grey_card``). Then the closing check: whites that no still was taken at, under the other lamp,
under the lamp as it was and as it is corrected.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from onecrew.errors import Mistake
from onecrew.fixtures.calibration import Calibration
from onecrew.fixtures.calibration_plan import REACHED_UV, question, refuse_without_tint, whites_to_ask
from onecrew.fixtures.closing_check import unseen_whites
from onecrew.fixtures.describe import describe_lights
from onecrew.show.light import Light, White
from onecrew.show.profile import Profile
from onecrew.show.safe_write import write_beside
from onecrew.show.show import Fixture, Reading
from onecrew.stills.arrivals import Folder, taken_s
from onecrew.stills.grey_card import MIDDLE, card_in, clipped, light_of
from onecrew.stills.guided import as_document
from onecrew.stills.kit import Lamp
from onecrew.stills.levelling import Levels
from onecrew.stills.regions import Box
from onecrew.stills.shotlist import AS_IT_WAS, CORRECTED, Shot
from onecrew.stills.sorting import Taken, sorted_into
from onecrew.stills.stack import Plate, read_plate
from onecrew.stills.transfer import curve_called

LIST = "grey-card.json"
_CHECKED_WHITES = 3


@dataclass(slots=True)
class CardFolder(Folder):
    """A folder to which stills of a grey card come."""

    box: Box = MIDDLE

    def clipped(self, plate: Plate) -> str:
        return "the card" if clipped(card_in(plate, self.box)) else ""

    def light(self, plate: Plate, /) -> float:
        return light_of(card_in(plate, self.box))


def first_shots(fixture: Fixture, other: Fixture, profiles: Mapping[str, Profile]) -> tuple[Shot, ...]:
    """Return what to take so that ``fixture`` can be made to look like ``other``; files are to be named.

    Whites are those that both give. Raises ``Mistake`` for a lamp without a tint of its own, and where there
    are no two such whites.
    """
    refuse_without_tint(fixture, profiles)
    whites = _given_by(other, whites_to_ask(fixture, profiles), profiles)
    if len({white.cct_k for white in whites}) < 2:
        raise Mistake(f"{other.id} gives hardly a white that {fixture.id} gives: name another lamp")
    shots = [Shot("", None)]
    for white in whites:
        shots += [_of_other(other, white), _of_lamp(fixture, profiles, white, white)]
    return _promising(shots, fixture, other, profiles)


def closing_shots(
    fixture: Fixture,
    other: Fixture,
    profiles: Mapping[str, Profile],
    readings: Sequence[Reading],
    stops: float = 0.0,
) -> tuple[Shot, ...]:
    """Return what to take for the closing check of new readings of ``fixture``; none where no gap is wide.

    ``stops``: how much brighter it is than the other one at the same output; the brighter is lowered by it.
    """
    shots: list[Shot] = []
    calibration = Calibration([readings])
    for white in _given_by(other, unseen_whites(readings, _CHECKED_WHITES), profiles):
        mired, duv = calibration.correct([1e6 / white.cct_k], [white.duv])
        corrected = White(cct_k=1e6 / float(mired[0]), duv=float(duv[0]))
        shots += [
            _of_other(other, white),
            Shot("", fixture.id, cct_k=white.cct_k, duv=white.duv, how=AS_IT_WAS),
            replace(_of_lamp(fixture, profiles, white, corrected), how=CORRECTED),
        ]
    promising = _promising(shots, fixture, other, profiles)
    return Levels({other.id: 1.0, fixture.id: 2.0**stops}).levelled(promising)


def as_listed(fixture: Fixture, profiles: Mapping[str, Profile], shots: Iterable[Shot]) -> tuple[Shot, ...]:
    """Return stills that were taken as a list has them: of the lamp by what it gives without even output."""
    if not fixture.even:
        return tuple(shots)
    return tuple(
        _without_even(fixture, profiles, shot) if shot.lamp == fixture.id else shot for shot in shots
    )


def named(taken: Sequence[tuple[Shot, str]], files: Iterable[Path]) -> list[tuple[Shot, str]]:
    """Return the stills, each with the wall-clock time it was taken at, with the files of those without one.

    ``files`` are what has come since the run began. Raises ``Mistake`` where they are too few, or nobody can
    say which is which.
    """
    have = {shot.file for shot, _ in taken}
    rest = [Taken(file.name, taken_s(file)) for file in files if file.name not in have]
    without = [datetime.fromisoformat(at).timestamp() for shot, at in taken if not shot.file]
    found = iter(sorted_into(rest, without) if without else ())
    return [(shot if shot.file else replace(shot, file=next(found)), at) for shot, at in taken]


def keep_list(folder: Path, taken: Sequence[Shot], curve: str | None, white_balance_k: float | None) -> Path:
    """Write which picture is which beside them, so that nobody need take them again; return where."""
    document = as_document([(shot, "") for shot in taken], curve, white_balance_k)
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    return write_beside(folder / LIST, text.encode())


def card_seen(file: Path, box: Box, curve: str | None) -> tuple[str, float]:
    """Return 'the card' where it is clipped in a picture, or '', and its light; raises where that cannot be
    read (yet)."""
    card = card_in(read_plate(file, curve_called(curve or "sRGB")), box)
    return "the card" if clipped(card) else "", light_of(card)


def _given_by(other: Fixture, whites: Sequence[White], profiles: Mapping[str, Profile]) -> list[White]:
    reports = describe_lights(other, profiles, [Light(level=1.0, white=white) for white in whites])
    return [white for white, one in zip(whites, reports, strict=True) if one.unrounded.off_by <= REACHED_UV]


def _of_other(other: Fixture, white: White) -> Shot:
    return Shot("", other.id, cct_k=white.cct_k, duv=white.duv)


def _of_lamp(fixture: Fixture, profiles: Mapping[str, Profile], white: White, ask: White) -> Shot:
    """The lamp when it is asked for ``ask`` as if it had no readings, on the list as ``white``."""
    told = question(fixture, profiles, ask).told
    return Shot("", fixture.id, cct_k=white.cct_k, duv=white.duv, told=(told.cct_k, told.duv))


def _promising(
    shots: Sequence[Shot], fixture: Fixture, other: Fixture, profiles: Mapping[str, Profile]
) -> tuple[Shot, ...]:
    """The stills with the light that the profiles promise of each, even output taken off."""
    bare = fixture.model_copy(update={"calibration": (), "even": False})
    lamps = {fixture.id: Lamp(bare, profiles), other.id: Lamp(other, profiles)}

    def promised(shot: Shot) -> float:
        light = float(lamps[shot.lamp].given(shot).xyz[1]) if shot.lamp is not None else 1.0
        if fixture.even and shot.lamp == fixture.id:
            light *= _without_even(fixture, profiles, shot).output / shot.output
        return light

    return tuple(replace(shot, promised=promised(shot)) for shot in shots)


def _without_even(fixture: Fixture, profiles: Mapping[str, Profile], shot: Shot) -> Shot:
    assert shot.cct_k is not None  # a lamp with a tint has whites
    share = question(fixture, profiles, White(cct_k=shot.cct_k, duv=shot.duv)).share
    return replace(shot, output=shot.output * share)
