"""Sheets: the text of a look sheet, moments that no log holds — a cue as the show has it — and what profiles
add to any moment.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from onecrew.commands.running import Recall
from onecrew.engine.desk import Desk
from onecrew.engine.queries import answer
from onecrew.engine.recorded_state import plain, recorded_state
from onecrew.engine.state import state_of
from onecrew.errors import Mistake, Misuse
from onecrew.log.matched import pictures_of
from onecrew.log.recorded_state import Kind, RecordedState, dump_recorded_state, kind_of, parse_recorded_state
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


def sheet_of(recorded: RecordedState, ending: str, profiles: Mapping[str, Profile], log: Path) -> str:
    """The sheet of a moment in the form that one of ``FORMS`` names; ``log`` has the pictures of matches."""
    if ending == ".json":
        return dump_recorded_state(recorded)
    read = read_at_subjects(recorded, profiles)
    if ending == ".csv":
        return lamps_csv(recorded, read)
    if ending == ".md":
        return markdown(recorded, read)
    predicted = recorded.cue.predicted if recorded.cue is not None else None
    pictures = {} if predicted is None else pictures_of(log, predicted.id)
    return page(with_gamuts(recorded, profiles), read, pictures)


def recorded_state_of_cue(show: Show, profiles: Mapping[str, Profile], number: str) -> RecordedState:
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
    content = recorded_state(state_of(desk, LONG_AFTER_S))
    for lamp in content["lamps"]:
        light = cue.look.get(lamp["fixture"]["id"]) if cue is not None else None
        if light is not None:
            lamp["light"] = plain(light)
    return parse_recorded_state(content, f"cue {number}")


def read_at_subjects(recorded: RecordedState, profiles: Mapping[str, Profile]) -> tuple[Forecast, ...]:
    """What a light meter would have read at every subject, by today's profiles."""
    lamps = [
        lamp_of(lamp.fixture, profiles.get(lamp.fixture.profile), lamp.sent.output, lamp.sent.xy)
        for lamp in recorded.lamps
    ]
    return forecasts(stage_of(lamps, recorded.set_pieces, recorded.camera, recorded.room), recorded.camera)


def with_gamuts(recorded: RecordedState, profiles: Mapping[str, Profile]) -> RecordedState:
    """The moment with the outline of what each kind of lamp can give, where its profile is still known."""
    kinds: dict[str, Kind] = dict(recorded.kinds)
    for lamp in recorded.lamps:
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
    return recorded.model_copy(update={"kinds": kinds})
