"""Plan of a calibration: which whites to ask a lamp for, how to ask it past the readings it has already, and
what a set of readings is worth.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from controller.colour.table import white_to_uv76_fast
from controller.documents.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from controller.documents.light import Light, White
from controller.documents.profile import Profile
from controller.documents.show import Fixture, Reading
from controller.errors import Mistake
from controller.output.calibration import SAME_MIRED, Calibration
from controller.output.describe import describe_lights
from controller.output.groups import looked_up

FILM_WHITES_K = (2000.0, 2700.0, 3200.0, 4300.0, 5600.0, 6500.0)
"""Whites that film lighting asks for, from a candle to an overcast sky (common practice, no source)."""
TINT_DUV = 0.01
"""How far to green and to magenta the middle white is tried as well: about a third of a full filter."""
_END_MIRED = 20.0
_NEAR_ENOUGH = 0.012
"""Δu′v′ up to which a lamp counts as giving a white: a bicolour lamp passes, half way between its whites."""
_SOME_TINT = 0.004
_PAST_TELLING = "the readings that {} has are too far off to ask it past them: clear them first"
_ODD_ONE_OUT, _ODD_AT_LEAST = 3.0, 0.004
ENOUGH_TO_CHECK = 3
"""Readings from which on each can be foretold from the others."""


@dataclass(frozen=True, slots=True)
class Question:
    """One white to be read with a meter."""

    asked: White
    """What the bare lamp is asked for, within its reach."""
    told: White
    """What to tell the lamp, as it is set now, so that it does that."""
    share: float
    """Share 0–1 of the bare lamp's light that even output leaves of it."""
    promised: float
    """Light that the profile promises there, as a fraction of the most that the fixture gives."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What one reading says of the lamp, in Δu′v′ (CIE 1976)."""

    reading: Reading
    off_by: float
    """Between what was asked and what the meter read."""
    left: float | None
    """Between what was read and what the other readings foretell; None for fewer than three readings."""


def whites_to_ask(fixture: Fixture, profiles: Mapping[str, Profile]) -> tuple[White, ...]:
    """Return a short set of whites over what a fixture gives, warm to cool, and two tints where it has them.

    All are within its reach. Raises ``Mistake`` for a fixture that has one colour only.
    """
    profile, mode = looked_up(fixture, profiles)
    kelvins = set(FILM_WHITES_K)
    if mode.cct is not None and mode.cct.cct is not None:
        warmest, coolest = mode.cct.cct.warmest_k, mode.cct.cct.coolest_k
        kelvins = {k for k in FILM_WHITES_K if warmest <= k <= coolest}
        for end in (warmest, coolest):
            if all(abs(1e6 / end - 1e6 / k) > _END_MIRED for k in kelvins):
                kelvins.add(end)
    whites = _reached(fixture, profiles, [White(cct_k=k) for k in sorted(kelvins)])
    if len(whites) < 2:
        raise Mistake(
            f"{fixture.id} is a {profile.id} and has one white of its own: there is nothing to calibrate"
        )
    middle = whites[len(whites) // 2]
    tints = [middle.model_copy(update={"duv": middle.duv + step}) for step in (-TINT_DUV, TINT_DUV)]
    tinted = [
        white for white in _reached(fixture, profiles, tints) if abs(white.duv - middle.duv) > _SOME_TINT
    ]
    return (*whites, *tinted)


def question(fixture: Fixture, profiles: Mapping[str, Profile], wanted: White) -> Question:
    """Return how to ask a fixture for a white as if it had no readings and no even output.

    A white out of its reach becomes the nearest that it gives. Raises ``Mistake`` where that is no white, or
    where the readings that it has cannot be undone.
    """
    bare = fixture.model_copy(update={"calibration": (), "even": False})
    [plain] = describe_lights(bare, profiles, [Light(level=1.0, white=wanted)])
    if plain.white is None:
        raise Mistake(f"{fixture.id} gives no white near {wanted.cct_k:g} K")
    asked = _rounded(plain.white) if plain.off_by > 0.0 else wanted
    told = _past_the_readings(fixture, asked)
    [here] = describe_lights(fixture, profiles, [Light(level=1.0, white=told)])
    share = here.light / plain.light if fixture.even else 1.0
    return Question(asked, told, share, plain.light)


def reading(asked: Question, cct_k: float, duv: float, light: float | None) -> Reading:
    """Return what the meter said to a question; ``light`` in any unit, None if the meter has none to tell."""
    return Reading(
        asked_cct_k=asked.asked.cct_k,
        asked_duv=asked.asked.duv,
        measured_cct_k=cct_k,
        measured_duv=duv,
        light=asked.promised if light is None else light / asked.share,
    )


def checked(readings: Sequence[Reading]) -> list[Checked]:
    """Return what each reading says, and how well the others foretell it (leave-one-out)."""
    off_by = [_apart(_asked(one), _measured(one)) for one in readings]
    if len(readings) < ENOUGH_TO_CHECK:
        return [Checked(one, off, None) for one, off in zip(readings, off_by, strict=True)]
    left = []
    for place, one in enumerate(readings):
        others = Calibration([[*readings[:place], *readings[place + 1 :]]])
        mired, duv = others.measured([1e6 / one.asked_cct_k], [one.asked_duv])
        left.append(_apart((float(mired[0]), float(duv[0])), _measured(one)))
    return [Checked(*row) for row in zip(readings, off_by, left, strict=True)]


def doubts(rows: Sequence[Checked]) -> list[str]:
    """Return a sentence on every reading that looks mistyped or misread."""
    said = []
    along = sorted((row.reading for row in rows), key=lambda one: one.asked_cct_k)
    for warm, cool in pairwise(along):
        steps = 1e6 / warm.asked_cct_k - 1e6 / cool.asked_cct_k, abs(warm.asked_duv - cool.asked_duv)
        if steps[0] > SAME_MIRED and steps[1] < _SOME_TINT and warm.measured_cct_k >= cool.measured_cct_k:
            said.append(
                f"{cool.asked_cct_k:.0f} K read no cooler than {warm.asked_cct_k:.0f} K: read both again"
            )
    if (odd := _odd_one_out(rows)) is not None:
        said.append(f"the reading at {odd.asked_cct_k:.0f} K does not go with the others: read it again")
    return said


def _odd_one_out(rows: Sequence[Checked]) -> Reading | None:
    """The reading that the others foretell worst, if they foretell each other far better without it."""
    if len(rows) <= ENOUGH_TO_CHECK:
        return None
    worst = max(rows, key=lambda row: row.left or 0.0)
    rest = checked([row.reading for row in rows if row is not worst])
    usual = sum(row.left or 0.0 for row in rest) / len(rest)
    return worst.reading if (worst.left or 0.0) > max(_ODD_ONE_OUT * usual, _ODD_AT_LEAST) else None


def _reached(fixture: Fixture, profiles: Mapping[str, Profile], wanted: Iterable[White]) -> list[White]:
    """The whites that the bare fixture gives when asked for these, as far as it comes near, each once."""
    bare = fixture.model_copy(update={"calibration": (), "even": False})
    wanted = [white for white in wanted if abs(white.duv) <= DUV_LIMIT]
    found: list[White] = []
    reports = describe_lights(bare, profiles, [Light(level=1.0, white=white) for white in wanted])
    for white, report in zip(wanted, reports, strict=True):
        given = white if report.off_by == 0.0 or report.white is None else _rounded(report.white)
        if report.white is None or (report.off_by > _NEAR_ENOUGH and white.duv == 0.0):
            continue
        same = [_apart(_mired(given), _mired(other)) < 1e-3 for other in found]
        if not any(same):
            found.append(given)
    return found


def _rounded(white: White) -> White:
    """A white in numbers that a meter could tell apart."""
    return White(cct_k=round(white.cct_k, 1), duv=round(white.duv, 5))


def _past_the_readings(fixture: Fixture, asked: White) -> White:
    if not fixture.calibration:
        return asked
    calibration = Calibration([fixture.calibration])
    mired, duv = calibration.measured([1e6 / asked.cct_k], [asked.duv])
    again, again_duv = calibration.correct(mired, duv)
    told_k, told_duv = 1e6 / float(mired[0]), float(duv[0])
    missed = _apart((float(again[0]), float(again_duv[0])), _mired(asked))
    if missed > 1e-4 or not (CCT_MIN_K <= told_k <= CCT_MAX_K) or abs(told_duv) > DUV_LIMIT:
        raise Mistake(_PAST_TELLING.format(fixture.id))
    return White(cct_k=told_k, duv=told_duv)


def _mired(white: White) -> tuple[float, float]:
    return 1e6 / white.cct_k, white.duv


def _asked(one: Reading) -> tuple[float, float]:
    return 1e6 / one.asked_cct_k, one.asked_duv


def _measured(one: Reading) -> tuple[float, float]:
    return 1e6 / one.measured_cct_k, one.measured_duv


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Distance of two whites, each (mired, Duv), in Δu′v′."""
    return float(np.hypot(*(white_to_uv76_fast(*one) - white_to_uv76_fast(*other))))
