"""A forecast in words: the same readings, rows and remarks on every surface."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from onecrew.language.places import say_length
from onecrew.language.saying import figure
from onecrew.show.photometry import Units

if TYPE_CHECKING:
    from onecrew.plan.forecast import Forecast, LampReading
    from onecrew.plan.inverse import Answer

HEAD = ("lamp", "role", "output", "lx to lamp", "of it bounced", "lx to camera", "share", "to key", "away")
HALF_A_STOP = "Without a meter reading of your own, count on half a stop either way."


def stops(value: float) -> str:
    """'+0.3 st', '−1.2 st', 'dark' for no light at all."""
    if math.isinf(value):
        return "dark"
    rounded = round(value, 1)
    return f"{'−' if rounded < 0 else '+'}{abs(rounded):.1f} st"


def ratio(value: float) -> str:
    """'4.0 : 1'."""
    return f"{value:.0f} : 1" if value >= 10 else f"{value:.1f} : 1"


def lux(value: float) -> str:
    """'98.3 lx', '1000 lx'."""
    return f"{figure(value)} lx"


def footcandles(value: float) -> str:
    """'9.1 fc', '360 fc'."""
    return f"{figure(value, 2)} fc"


def key_known(found: Forecast) -> bool:
    """Whether the key's lux mean something."""
    return bool(found.key) and all(lamp.known for lamp in found.lamps if lamp.id in found.key)


def readings(found: Forecast) -> Iterator[tuple[str, str, str]]:
    """(what, lux, stops against the camera notes) of what a meter reads at the face."""
    yield "camera notes", lux(found.nominal_lux), ""
    if found.absolute:
        yield "facing the camera", lux(found.camera_lux), stops(found.camera_stops)
    if key_known(found):
        yield f"key ({', '.join(found.key)})", lux(found.key_lux), stops(found.key_stops)


def ratios(found: Forecast) -> Iterator[str]:
    """Key : fill, and the two sides of the face."""
    if found.ratio is not None:
        yield f"key : fill {ratio(found.ratio)} (fill: {', '.join(found.fill)})"
    if found.contrast is not None:
        yield f"lit : shadow side {ratio(found.contrast)}"


def row(lamp: LampReading, units: Units) -> tuple[str, ...]:
    """One lamp under ``HEAD``."""
    away = say_length(lamp.distance_m, units)
    if lamp.output <= 0.0:
        full = f"{figure(lamp.full_lux)} at full" if lamp.known else ""
        return lamp.id, lamp.role, "off", full, "", "", "", "", away
    bounced = lamp.lamp_bounced_lux / lamp.lamp_lux if lamp.lamp_lux > 0.0 else 0.0
    return (
        lamp.id,
        lamp.role,
        f"{100 * lamp.output:.3g} %",
        figure(lamp.lamp_lux) if lamp.known else "?",
        f"{100 * bounced:.0f} %",
        figure(lamp.camera_lux) if lamp.known else "?",
        f"{100 * lamp.share:.0f} %",
        "" if lamp.to_key is None else stops(lamp.to_key),
        away,
    )


def remarks(found: Forecast) -> Iterator[str]:
    """What may block, how the key falls off, what is missing, doubted and assumed; a sentence each."""
    for lamp in found.lamps:
        if lamp.blocked and lamp.output > 0.0:
            yield f"{lamp.id}: {lamp.blocked}"
    if found.steps:
        steps = ", ".join(f"{stops(step.stops)} {step.way}" for step in found.steps)
        yield f"the key as {found.subject} moves: {steps}"
    if found.missing:
        yield (
            f"relative only: {', '.join(found.missing)} {'has' if len(found.missing) == 1 else 'have'} no "
            "photometry, so no lux are given for what is lit by them; add [photometry] to the profile, or "
            "read the lamp with a meter. Until then its flux figure stands in: it can be a stop off and more"
        )
    yield from (f"check: {doubt}" for doubt in found.doubts)
    yield from (f"assumed: {each}" for each in found.assumed)


def where(found: Forecast) -> str:
    """'baker (2.50 m, 1.80 m, 1.65 m)'."""
    return f"{found.subject} ({', '.join(say_length(each, found.units) for each in found.at)})"


def change(before: float, now: float) -> str:
    """By how many stops light changed, as '−0.8 st'; empty where it did not or was dark."""
    if before <= 0.0 or now <= 0.0 or abs(math.log2(now / before)) < 0.05:
        return ""
    return stops(math.log2(now / before))


def answer_lines(wanted: Answer, units: Units) -> list[str]:
    """What would give the reading that is wanted."""
    said = []
    for each in wanted.settings:
        left = f"{each.stops_left:.1f} stops below its full light"
        if each.stops_left < 0.05:
            left = "all it has" if each.stops_left > -0.05 else f"{-each.stops_left:.1f} stops short"
        said.append(f"{each.id} at {100 * each.level:.3g} %, {left}")
    if wanted.place is not None:
        new = wanted.place
        far = say_length(new.distance_m, units)
        where = ", ".join(say_length(each, units) for each in (new.x_m, new.y_m, new.height_m))
        said.append(
            f"{new.id} {far} away, at {where}: "
            f"it loses {new.fall:.1f} stops across the move; the reading changes by {stops(new.stops)}"
        )
    return [*said, *wanted.remarks]
