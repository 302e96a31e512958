"""The contrast of the look: how many stops the key lamps give more than the fill lamps."""

from __future__ import annotations

import math

from onecrew.plan import saying
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import words
from onecrew.tui.readings import Readings


def role_output(show: Show, snapshot: Snapshot, role: str) -> float:
    """Sum of the outputs of a role's lamps, less their modifiers; each lamp's full light counts 1."""
    total = 0.0
    for fixture in show.rig.fixtures:
        light = snapshot.lights.get(fixture.id)
        if fixture.role == role and light is not None:
            total += light.output * 2.0 ** -sum(modifier.stops for modifier in fixture.modifiers)
    return total


def key_to_fill_stops(show: Show, snapshot: Snapshot) -> float | None:
    """log₂(key ÷ fill); None where either gives no light."""
    key, fill = (role_output(show, snapshot, role) for role in ("key", "fill"))
    return math.log2(key / fill) if key > 0 and fill > 0 else None


def said(show: Show, snapshot: Snapshot, readings: Readings) -> str:
    """The ratio at the subject where the plan tells it, else by outputs alone; or why there is none."""
    if readings.now and readings.now[0].ratio is not None:
        read = readings.now[0]
        assert read.ratio is not None
        here = "" if readings.fresh(show, snapshot) else "…"
        return f"at {read.subject} key : fill {saying.ratio(read.ratio)}{here}"
    difference = key_to_fill_stops(show, snapshot)
    if difference is not None:
        sign = "−" if difference <= -0.05 else ""
        return f"key : fill {sign}{abs(difference):.1f} st ({words.ratio(difference)})"
    if role_output(show, snapshot, "key") > 0:
        return "key : fill, no fill"
    return "key : fill, no key" if role_output(show, snapshot, "fill") > 0 else "key : fill, both off"
