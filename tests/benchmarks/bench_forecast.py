"""The exposure forecast against path-traced rooms, and how long it takes.

The rooms stand in ``tests/plan``: drawn ones, and twenty setups of a small set. Run ``python -m
tests.benchmarks forecast``.
"""

from __future__ import annotations

import numpy as np

from onecrew.plan.forecast import forecasts
from onecrew.plan.light_map import light_map
from onecrew.plan.stage import _cached, stage_of
from tests.benchmarks.report import Row, best_of
from tests.plan.moving import move
from tests.plan.rooms import TABLES, documents, errors, rooms

WORST, WEIGHTY = 0.2, 0.05


def rows() -> list[Row]:
    return [*(row for table in TABLES for row in accuracy(table)), *times()]


def accuracy(table: str) -> list[Row]:
    """Stops off, of every lamp facing the meter and of those with over 5 % of the light facing the camera."""
    share, camera, lamp = errors(table)
    named = f"{table.removesuffix('.json')}, {len(rooms(table))} rooms, {len(share)} lamps"
    found = []
    for what, off in (("to the camera, over 5 %", camera[share > WEIGHTY]), ("to the lamp, all", lamp)):
        off = np.abs(off)
        said = f"median {np.median(off):.4f}, p90 {np.quantile(off, 0.9):.3f}, worst {off.max():.3f} stop"
        found.append(Row(f"{named}: {what}", said, "", f"≤ {WORST} stop", float(off.max()) <= WORST))
    return found


def times() -> list[Row]:
    """The first reading in a room, one after a lamp was moved, and a map; for these no goal is set."""
    lamps, pieces, camera, room = documents(rooms()[0]["scene"])

    def fresh() -> None:
        _cached.cache_clear()
        forecasts(stage_of(lamps, pieces, camera, room), camera)

    stage = stage_of(lamps, pieces, camera, room)
    place, steps = lamps[0].fixture.place, iter(np.linspace(0.3, 2.0, 100_000))
    assert place is not None

    def moved() -> None:
        move(stage, lamps[0].fixture.id, place.model_copy(update={"x_m": float(next(steps))}))
        forecasts(stage, camera)

    work = (("first reading", fresh), ("after a move", moved), ("map, 25 cm", lambda: light_map(stage)))
    return [
        Row(f"forecast, {what}", f"{1000 * best_of(call, 5):.0f} ms", "", "", True) for what, call in work
    ]
