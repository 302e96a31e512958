"""``onecrew forecast``: what a light meter would read at the face, before a stand is moved."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from onecrew.cli.document import current_show, has_engine
from onecrew.cli.exits import DONE
from onecrew.cli.parts import all_profiles, existing_show, print_json, table
from onecrew.cli.sheet import moment_of
from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.plan.backwards import Answer, answer
from onecrew.plan.flicker import advice
from onecrew.plan.forecast import Forecast, LampReading, forecast
from onecrew.plan.lamp import Lamp, lamp_at_full, lamp_of
from onecrew.plan.stage import stage_of
from onecrew.plan.wants import read_wants
from onecrew.show.profiles import ProfileShelf
from onecrew.show.show import Show


def run(arguments: argparse.Namespace) -> int:
    at, to = _spot(arguments.at, "--at"), _spot(arguments.to, "--to")
    path = existing_show(arguments.show.expanduser())
    profiles = all_profiles(path)
    show, lamps, of = lamps_now(path, arguments.cue, profiles)
    stage = stage_of(lamps, show.rig.set_pieces, show.camera, show.room)
    found = forecast(stage, show.camera, at, to)
    flicker = list(advice(show.camera, show.rig.fixtures, profiles, show.room.mains_hz))
    wanted = None
    if arguments.want is not None:
        wanted = answer(stage, found, read_wants(arguments.want, show.camera), profiles, to)
    if arguments.json:
        told = {"show": show.name, "of": of, **facts(found), "flicker": flicker}
        print_json(told if wanted is None else {**told, "want": asdict(wanted)})
        return DONE
    print("\n".join([*lines(found, f"{show.name}, {of}"), *flicker]))
    if wanted is not None:
        print("\n".join(["", f"for {arguments.want.strip()}:", *_answered(wanted)]))
    return DONE


def lamps_now(path: Path, cue: str | None, profiles: ProfileShelf) -> tuple[Show, list[Lamp], str]:
    """The show, its lamps with what they give in a cue, now or at full, and which of these in words."""

    show = current_show(path)
    if cue is None and not has_engine(path):
        return show, _at_full(show, profiles), "every lamp at full"
    moment = moment_of(path, cue, None, None)
    sent = {lamp.fixture.id: lamp.sent for lamp in moment.lamps}
    lamps = [
        lamp_of(fixture, profiles.get(fixture.profile), sent[fixture.id].output, sent[fixture.id].xy)
        for fixture in show.rig.fixtures
        if fixture.id in sent
    ]
    return show, lamps, moment.title


def _at_full(show: Show, profiles: ProfileShelf) -> list[Lamp]:
    """Every lamp at full, at the white that its photometry names, else at that of the camera."""

    return [lamp_at_full(f, profiles.get(f.profile), show.camera.white_balance_k) for f in show.rig.fixtures]


def _spot(text: str | None, what: str) -> tuple[float | None, ...] | None:
    """A place from '2.0,1.5' or '2.0,1.5,1.6'."""

    if text is None:
        return None
    parts = text.split(",")
    if len(parts) not in (2, 3):
        raise Misuse(f"{what} '{text}' is not a place; write metres as 2.0,1.5 or with a height 2.0,1.5,1.6")
    found = [
        reading.within(reading.number(part.strip().replace("−", "-"), what), -50.0, 50.0, what, " m")
        for part in parts
    ]
    return found[0], found[1], found[2] if len(found) == 3 else None


# ── To read ─────────────────────────────────────────────────────────────────────────────────────────


def lines(found: Forecast, title: str) -> list[str]:
    """The forecast for a person."""
    x, y, z = found.at
    said = [f"{title}: at {found.subject} ({x:.2f}, {y:.2f}, {z:.2f} m)"]
    if not found.lamps:
        return [
            *said,
            "no lamp has a place on the plan: give them places, and the forecast has something to say",
        ]
    said += ["", *_readings(found), "", *table(_rows(found), right=frozenset({2, 3, 4, 5, 6, 7, 8}))]
    said += [""] + [
        f"{lamp.id}: {lamp.blocked}" for lamp in found.lamps if lamp.blocked and lamp.output > 0.0
    ]
    if found.steps:
        steps = ", ".join(f"{stops(step.stops)} {step.way}" for step in found.steps)
        said.append(f"the key as {found.subject} moves: {steps}")
    if found.missing:
        said.append(
            f"relative only: {', '.join(found.missing)} {'has' if len(found.missing) == 1 else 'have'} no "
            "photometry, so no lux are given for what is lit by them; add [photometry] to the profile, or "
            "read the lamp with a meter. Until then its flux figure stands in: it can be a stop off and more"
        )
    said += [f"check: {doubt}" for doubt in found.doubts]
    said += [f"assumed: {each}" for each in found.assumed]
    said.append("Without a meter reading of your own, count on half a stop either way.")
    return [line for number, line in enumerate(said) if line or said[number - 1]]


def _readings(found: Forecast) -> list[str]:
    rows = [["camera notes", f"{found.nominal_lux:.3g} lx", ""]]
    if found.absolute:
        rows.append(["facing the camera", f"{found.camera_lux:.3g} lx", stops(found.camera_stops)])
    if found.key and (found.absolute or _all_known(found)):
        rows.append([f"key ({', '.join(found.key)})", f"{found.key_lux:.3g} lx", stops(found.key_stops)])
    said = table(rows, right=frozenset({1, 2}))
    ratios = []
    if found.ratio is not None:
        ratios.append(f"key : fill {ratio(found.ratio)} (fill: {', '.join(found.fill)})")
    if found.contrast is not None:
        ratios.append(f"lit : shadow side {ratio(found.contrast)}")
    return [*said, *ratios]


def _all_known(found: Forecast) -> bool:
    return all(lamp.known for lamp in found.lamps if lamp.id in found.key)


def _rows(found: Forecast) -> list[list[str]]:
    rows = [
        ["lamp", "role", "output", "lx to lamp", "of it bounced", "lx to camera", "share", "to key", "away"]
    ]
    for lamp in found.lamps:
        rows.append(_row(lamp))
    return rows


def _row(lamp: LampReading) -> list[str]:
    if lamp.output <= 0.0:
        full = f"{lamp.full_lux:.3g} at full" if lamp.known else ""
        return [lamp.id, lamp.role, "off", full, "", "", "", "", f"{lamp.distance_m:.2f} m"]
    bounced = lamp.lamp_bounced_lux / lamp.lamp_lux if lamp.lamp_lux > 0.0 else 0.0
    return [
        lamp.id,
        lamp.role,
        f"{100 * lamp.output:.3g} %",
        f"{lamp.lamp_lux:.3g}" if lamp.known else "?",
        f"{100 * bounced:.0f} %",
        f"{lamp.camera_lux:.3g}" if lamp.known else "?",
        f"{100 * lamp.share:.0f} %",
        "" if lamp.to_key is None else stops(lamp.to_key),
        f"{lamp.distance_m:.2f} m",
    ]


def _answered(wanted: Answer) -> list[str]:
    """What would give the reading that is wanted."""
    said = []
    for each in wanted.settings:
        left = f"{each.stops_left:.1f} stops below its full light"
        if each.stops_left < 0.05:
            left = "all it has" if each.stops_left > -0.05 else f"{-each.stops_left:.1f} stops short"
        said.append(f"  {each.id} at {100 * each.level:.3g} %, {left}")
    if wanted.place is not None:
        new = wanted.place
        said.append(
            f"  {new.id} {new.distance_m:.2f} m away, at {new.x_m:.2f}, {new.y_m:.2f}, {new.height_m:.2f} m: "
            f"it loses {new.fall:.1f} stops across the move; the reading changes by {stops(new.stops)}"
        )
    return [*said, *(f"  {remark}" for remark in wanted.remarks)]


def stops(value: float) -> str:
    """'+0.3 st', '−1.2 st', 'dark' for no light at all."""
    if value == float("-inf"):
        return "dark"
    sign = "−" if round(value, 1) < 0 else "+"
    return f"{sign}{abs(value):.1f} st"


def ratio(value: float) -> str:
    """'4.0 : 1'."""
    return f"{value:.0f} : 1" if value >= 10 else f"{value:.1f} : 1"


# ── For scripts ─────────────────────────────────────────────────────────────────────────────────────


def facts(found: Forecast) -> dict[str, Any]:
    """The forecast as plain data; figures that mean nothing are None."""

    told: dict[str, Any] = asdict(found)
    for lamp in told["lamps"]:
        if not lamp["known"]:
            for name in ("camera_lux", "camera_bounced_lux", "lamp_lux", "lamp_bounced_lux", "full_lux"):
                lamp[name] = None
    unknown: Sequence[str] = () if found.absolute else ("camera_lux", "camera_stops")
    if not found.absolute and not _all_known(found):
        unknown = (*unknown, "key_lux", "key_stops")
    if any(not lamp.known for lamp in found.lamps if lamp.id in found.fill):
        unknown = (*unknown, "fill_lux")
    for name in unknown:
        told[name] = None
    for name in ("camera_stops", "key_stops"):
        if told[name] == float("-inf"):
            told[name] = None
    return told
