"""Sheets: the text of a look sheet, moments that no log holds — a cue as the show has it — and what profiles
add to any moment.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from onecrew.commands.running import Recall
from onecrew.engine.desk import Desk
from onecrew.engine.moments import moment_of, plain
from onecrew.engine.queries import answer
from onecrew.engine.state import state_of
from onecrew.errors import Mistake, Misuse
from onecrew.log.matched import pictures_of
from onecrew.log.moment import Kind, Moment, dump_moment, kind_of, moment_in
from onecrew.plan.forecast import Forecast, forecasts
from onecrew.plan.lamp import lamp_of
from onecrew.plan.stage import stage_of
from onecrew.sheet.page import page
from onecrew.sheet.texts import lamps_csv, markdown
from onecrew.show.light import Look
from onecrew.show.profile import Profile
from onecrew.show.show import Rig, Show

LONG_AFTER_S = 1000.0
"""When a cue has surely arrived."""
FORMS = (".html", ".md", ".csv", ".json")


def check_ending(to: Path) -> None:
    """Raises ``Misuse`` for a file whose ending is none of ``FORMS``."""
    if to.suffix.lower() not in FORMS:
        raise Misuse(f"{to} has no ending that says its form; end it in {', '.join(FORMS)}")


def sheet_of(moment: Moment, ending: str, profiles: Mapping[str, Profile], log: Path) -> str:
    """The sheet of a moment in the form that one of ``FORMS`` names; ``log`` has the pictures of matches."""
    if ending == ".json":
        return dump_moment(moment)
    read = read_at_subjects(moment, profiles)
    if ending == ".csv":
        return lamps_csv(moment, read)
    if ending == ".md":
        return markdown(moment, read)
    predicted = moment.cue.predicted if moment.cue is not None else None
    pictures = {} if predicted is None else pictures_of(log, predicted.id)
    return page(with_gamuts(moment, profiles), read, pictures)


def moment_of_cue(show: Show, profiles: Mapping[str, Profile], number: str) -> Moment:
    """What the lamps are sent when a cue stands, effects apart. ``Refused`` if there is no such cue."""
    cue = show.cue(number)
    still: Look = (
        {} if cue is None else {n: x.model_copy(update={"effect": None}) for n, x in cue.look.items()}
    )
    calm = tuple(
        other.model_copy(update={"look": still, "delay_s": 0.0, "auto_follow_s": None})
        if other is cue
        else other
        for other in show.cues
    )
    desk = Desk(show.model_copy(update={"cues": calm}), profiles, 0.0)
    desk.carry_out(Recall(cue=number, fade_s=0.0), 0.0)
    desk.advance(LONG_AFTER_S)
    content = moment_of(state_of(desk, LONG_AFTER_S))
    for lamp in content["lamps"]:
        light = cue.look.get(lamp["fixture"]["id"]) if cue is not None else None
        if light is not None:
            lamp["light"] = plain(light)
    return moment_in(content, f"cue {number}")


def read_at_subjects(moment: Moment, profiles: Mapping[str, Profile]) -> tuple[Forecast, ...]:
    """What a light meter would have read at every subject, by today's profiles."""
    lamps = [
        lamp_of(lamp.fixture, profiles.get(lamp.fixture.profile), lamp.sent.output, lamp.sent.xy)
        for lamp in moment.lamps
    ]
    return forecasts(stage_of(lamps, moment.set_pieces, moment.camera, moment.room), moment.camera)


def with_gamuts(moment: Moment, profiles: Mapping[str, Profile]) -> Moment:
    """The moment with the outline of what each kind of lamp can give, where its profile is still known."""
    kinds: dict[str, Kind] = dict(moment.kinds)
    for lamp in moment.lamps:
        fixture = lamp.fixture
        profile, name = profiles.get(fixture.profile), kind_of(fixture)
        if profile is None or profile.mode(fixture.mode) is None or name not in kinds or kinds[name].gamut:
            continue
        desk = Desk(Show(name="one lamp", rig=Rig(fixtures=(fixture,))), profiles, 0.0)
        try:
            found: Any = answer("gamut", {"fixture": fixture.id}, desk)
        except Mistake:
            continue
        outline = tuple((float(u), float(v)) for u, v in found["uv"])
        kinds[name] = kinds[name].model_copy(update={"gamut": outline})
    return moment.model_copy(update={"kinds": kinds})
