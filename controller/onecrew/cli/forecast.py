"""``onecrew forecast``: what a light meter would read at the face, before a stand is moved."""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from onecrew.cli.document import current_show, has_engine
from onecrew.cli.exits import DONE
from onecrew.cli.parts import existing_show, print_json, table
from onecrew.cli.sheet import recorded_state_of
from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.language.places import length, say_length
from onecrew.plan import saying
from onecrew.plan.flicker import advice
from onecrew.plan.forecast import Forecast, forecast, forecasts
from onecrew.plan.inverse import answer
from onecrew.plan.lamp import Lamp, lamp_at_full, lamp_of
from onecrew.plan.light_map import light_map
from onecrew.plan.saying import key_known, stops
from onecrew.plan.stage import Stage, Subject, stage_of
from onecrew.plan.wants import read_wants
from onecrew.show.photometry import Room
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.show import Camera, SetPiece

MAP_M = 0.5
"""Side of one square of the map."""


def run(arguments: argparse.Namespace) -> int:
    at, to = _spot(arguments.at, "--at"), _spot(arguments.to, "--to")
    path = existing_show(arguments.show.expanduser())
    profiles = load_profiles(beside=path)
    setup = setup_of(path, arguments.cue, profiles)
    camera = setup.camera
    stage = stage_of(setup.lamps, setup.set_pieces, camera, setup.room)
    subject = _subject(stage, arguments.subject)
    found = forecast(stage, camera, at, to, subject)
    others = [] if at is not None or subject is not None else list(forecasts(stage, camera)[1:])
    fixtures = [lamp.fixture for lamp in setup.lamps]
    flicker = list(advice(camera, fixtures, profiles, setup.room.mains_hz))
    wanted = None
    if arguments.want is not None:
        wanted = answer(stage, found, read_wants(arguments.want, camera), profiles, to)
    if arguments.json:
        told = {"show": setup.show, "of": setup.of, **facts(found), "flicker": flicker}
        told["others"] = [facts(other) for other in others]
        if arguments.map:
            light = light_map(stage, MAP_M)
            lux = light.lux.tolist() if found.absolute else None
            told["map"] = {"x": light.x_m.tolist(), "y": light.y_m.tolist(), "lux": lux}
        print_json(told if wanted is None else {**told, "want": asdict(wanted)})
        return DONE
    said = lines(found, f"{setup.show}, {setup.of}")
    for other in others:
        said += ["", *lines(other, "and")]
    said += [saying.HALF_A_STOP, *flicker]
    if arguments.map and found.absolute:
        said += ["", *_map(stage, found)]
    if wanted is not None:
        said += ["", f"for {arguments.want.strip()}:"]
        said += [f"  {line}" for line in saying.answer_lines(wanted, found.units)]
    print("\n".join(said))
    return DONE


@dataclass(frozen=True, slots=True)
class Setup:
    """What is read: the lamps with what they give, and what else stands in the room."""

    show: str
    of: str
    lamps: Sequence[Lamp]
    set_pieces: Sequence[SetPiece]
    camera: Camera
    room: Room


def setup_of(path: Path, cue: str | None, profiles: ProfileLibrary) -> Setup:
    """A cue as it would be sent, what the engine sends now, or every lamp at full."""
    if cue is None and not has_engine(path):
        show = current_show(path)
        white = show.camera.white_balance_k
        full = [lamp_at_full(each, profiles.get(each.profile), white) for each in show.rig.fixtures]
        return Setup(show.name, "every lamp at full", full, show.rig.set_pieces, show.camera, show.room)
    recorded = recorded_state_of(path, cue, None, None)
    lamps = [
        lamp_of(lamp.fixture, profiles.get(lamp.fixture.profile), lamp.sent.output, lamp.sent.xy)
        for lamp in recorded.lamps
    ]
    return Setup(recorded.show, recorded.title, lamps, recorded.set_pieces, recorded.camera, recorded.room)


def _subject(stage: Stage, name: str | None) -> Subject | None:
    """The subject of that name; None where none is named."""
    found = next((each for each in stage.subjects if each.name == name), None)
    if name is not None and found is None:
        known = ", ".join(each.name for each in stage.subjects) or "none on the plan"
        raise Misuse(f"there is no subject '{name}'; there is {known}")
    return found


def _spot(text: str | None, what: str) -> tuple[float | None, ...] | None:
    """A place from '2.0,1.5' or '2.0,1.5,1.6'."""
    if text is None:
        return None
    parts = text.split(",")
    if len(parts) not in (2, 3):
        raise Misuse(f"{what} '{text}' is not a place; write metres as 2.0,1.5 or with a height 2.0,1.5,1.6")
    found = [reading.within(length(part, what), -50.0, 50.0, what, " m") for part in parts]
    return found[0], found[1], found[2] if len(found) == 3 else None


# ── To read ─────────────────────────────────────────────────────────────────────────────────────────


def lines(found: Forecast, title: str) -> list[str]:
    """The forecast for a person."""
    said = [f"{title}: at {saying.where(found)}"]
    if not found.lamps:
        return [*said, "no lamp has a place on the plan: give each a place, and ask again"]
    said += ["", *table(list(saying.readings(found)), right=frozenset({1, 2})), *saying.ratios(found), ""]
    rows = [saying.HEAD, *(saying.row(lamp, found.units) for lamp in found.lamps)]
    said += [*table(rows, right=frozenset(range(2, 9))), ""]
    return [*said, *saying.remarks(found)]


def _map(stage: Stage, found: Forecast) -> list[str]:
    """Stops against the camera notes over the floor, the plan's upper wall first."""
    light, units = light_map(stage, MAP_M), found.units

    def said_at(place: float) -> str:
        return say_length(place, units, 1).removesuffix(" m")

    rows = [["m" if units == "metres" else "", *(said_at(float(each)) for each in light.x_m)]]
    for at in range(len(light.y_m) - 1, -1, -1):
        values = (float(each) / found.nominal_lux for each in light.lux[at])
        rows.append(
            [
                said_at(float(light.y_m[at])),
                *(stops(math.log2(v)).removesuffix(" st") if v > 0 else "dark" for v in values),
            ]
        )
    said = "light at the height of a face, facing the camera, in stops against the camera notes:"
    return [said, *table(rows, right=frozenset(range(len(rows[0]))))]


# ── For scripts ─────────────────────────────────────────────────────────────────────────────────────


def facts(found: Forecast) -> dict[str, Any]:
    """The forecast as plain data; figures that mean nothing are None."""
    told: dict[str, Any] = asdict(found)
    for lamp in told["lamps"]:
        if not lamp["known"]:
            for name in ("camera_lux", "camera_bounced_lux", "lamp_lux", "lamp_bounced_lux", "full_lux"):
                lamp[name] = None
    unknown: Sequence[str] = () if found.absolute else ("camera_lux", "camera_stops")
    if not found.absolute and not key_known(found):
        unknown = (*unknown, "key_lux", "key_stops")
    if any(not lamp.known for lamp in found.lamps if lamp.id in found.fill):
        unknown = (*unknown, "fill_lux")
    for name in unknown:
        told[name] = None
    for name in ("camera_stops", "key_stops"):
        if told[name] == float("-inf"):
            told[name] = None
    return told
