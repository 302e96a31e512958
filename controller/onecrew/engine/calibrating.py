"""Calibrating: the walk of a calibration as clients ask for it, from light to light by what is typed.

Stateless: a client sends all that was typed so far, and hears what to show and what to ask. Nothing here
changes the light or the show: the client shows the lamp alone and puts the readings into the show.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field

from onecrew.engine.desk import Desk
from onecrew.engine.queries import Answer, SlowAnswer, lamp_in, read
from onecrew.fixtures.calibration_plan import checked, doubts, question, refuse_without_tint, whites_to_ask
from onecrew.fixtures.calibration_walk import (
    CheckStep,
    EmitterStep,
    Walk,
    WhiteStep,
    check_remarks,
    emitter_readings,
    white_readings,
    white_remarks,
)
from onecrew.fixtures.calibration_words import closing_lines, summary
from onecrew.fixtures.closing_check import closing, to_show
from onecrew.fixtures.emitter_plan import emitters_to_ask
from onecrew.fixtures.emitter_result import facts, read_by_emitters, replaced, sentences
from onecrew.fixtures.meter import Metered
from onecrew.playback.measured import at_full
from onecrew.show.base import Model, Name
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture

NOTHING: Answer = {"said": [], "worse": False, "readings": 0, "fixture": None}
"""The end of a walk without a reading."""
Typed = Annotated[tuple[Annotated[str, Field(max_length=200)], ...], Field(max_length=400)]


class _Calibration(Model):
    fixture: Name
    typed: Typed = ()
    """The lines of the readings, in order."""
    check: Typed = ()
    """Those of the closing check."""
    emitters: bool = False
    """Each emitter alone instead of whites."""


class _Tint(Model):
    fixture: Name


def tint(desk: Desk, arguments: dict[str, Any]) -> SlowAnswer:
    """``{}`` for a lamp that a camera can be the meter of; raises ``Mistake`` for one without a tint."""
    fixture = lamp_in(desk.show, read(_Tint, arguments).fixture)

    async def work() -> Answer:
        await asyncio.to_thread(refuse_without_tint, fixture, desk.profiles)
        return {}

    return work()


def calibration(desk: Desk, arguments: dict[str, Any]) -> SlowAnswer:
    """What to show and to ask next; at the end, the fixture with its readings.

    ``{"at", "of", "name", "was", "remark", "checks", "light" | "slots"}`` while something is to be read, and
    then ``{"said", "worse", "readings", "fixture"}``. Raises ``Misuse`` for a last line that says nothing.
    """
    asked = read(_Calibration, arguments)
    return asyncio.to_thread(_next, lamp_in(desk.show, asked.fixture), desk.profiles, asked)


def _next(fixture: Fixture, profiles: Mapping[str, Profile], asked: _Calibration) -> Answer:
    return (_by_emitters if asked.emitters else _by_whites)(fixture, profiles, asked)


def _by_whites(fixture: Fixture, profiles: Mapping[str, Profile], asked: _Calibration) -> Answer:
    questions = [question(fixture, profiles, white) for white in whites_to_ask(fixture, profiles)]
    walk = Walk([WhiteStep(one) for one in questions])
    remark = _replay(walk, asked.typed)
    if not walk.over:
        white = questions[walk.at].told
        return _asks(walk, remark, checks=False) | {"light": {"cct_k": white.cct_k, "duv": white.duv}}
    taken = white_readings(walk)
    if not taken:
        return NOTHING
    after = fixture.model_copy(update={"calibration": taken})
    rows = checked(taken)
    said = [*summary(rows), *doubts(rows), *white_remarks(walk)]
    return _closing(fixture, after, profiles, asked.check, said, len(taken), walk)


def _by_emitters(fixture: Fixture, profiles: Mapping[str, Profile], asked: _Calibration) -> Answer:
    questions = emitters_to_ask(fixture, profiles)
    walk = Walk([EmitterStep(one) for one in questions])
    remark = _replay(walk, asked.typed)
    if not walk.over:
        return _asks(walk, remark, checks=False) | {"slots": list(questions[walk.at].slots)}
    taken = emitter_readings(walk)
    if not at_full(taken):
        return NOTHING
    after = read_by_emitters(fixture, taken)
    remarks = [*walk.remarks(), *replaced(fixture)]
    found = facts(after, profiles, remarks=remarks)
    off = ", ".join(
        f"{one['emitter']} {one['off_by']:.4f}" for one in found["emitters"] if one["level"] == 1.0
    )
    said = [f"off from the profile's colour, in u′v′: {off}", *sentences(found)]
    return _closing(fixture, after, profiles, asked.check, said, len(taken))


def _closing(
    fixture: Fixture,
    after: Fixture,
    profiles: Mapping[str, Profile],
    typed: tuple[str, ...],
    said: list[str],
    readings: int,
    whites: Walk | None = None,
) -> Answer:
    """The closing check of new readings; at its end what was found, and the lamp with them."""
    shown = to_show(fixture, after, profiles)
    steps = [CheckStep(one, corrected) for one in shown for corrected in (False, True)]
    check, worse = Walk(steps), False
    remark = _replay(check, typed)
    if not check.over:
        return _asks(check, remark, checks=True) | {"slots": list(steps[check.at].slots)}
    metered = [one for _, one in check.means() if isinstance(one, Metered)]
    if shown and len(metered) == len(steps):
        found = closing(shown, metered[::2], metered[1::2])
        doubted = [] if whites is None else check_remarks(whites, found)
        said, worse = [*said, *closing_lines(found), *doubted], found.worse
    kept = after.model_dump(mode="json", exclude_defaults=True)
    return {"said": said, "worse": worse, "readings": readings, "fixture": kept}


def _replay(walk: Walk, lines: tuple[str, ...]) -> str:
    """Has the walk hear the lines; returns what it says of the last one."""
    remark = ""
    for line in lines:
        if walk.over:
            break
        remark = walk.receive(line)
    return remark


def _asks(walk: Walk, remark: str, *, checks: bool) -> Answer:
    known = walk.answers.get(walk.at, [])
    return {
        "at": walk.at,
        "of": len(walk.steps),
        "name": walk.step.name,
        "was": known[-1].said if known else "",
        "remark": remark,
        "checks": checks,
    }
