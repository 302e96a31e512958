"""A map of light over the floor, at the height of a face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.plan.assumed import HEAD_M
from onecrew.plan.stage import Stage


@dataclass(frozen=True, slots=True)
class LightMap:
    """Light over the floor, on a grid."""

    x_m: FloatArray
    y_m: FloatArray
    lux: FloatArray
    """(len(y), len(x))."""

    def at(self, x_m: float, y_m: float) -> float:
        """Lux between the places of the grid, evenly in stops; 0 for no light."""
        columns, rows = (
            float(np.interp(place, grid, np.arange(len(grid))))
            for place, grid in ((x_m, self.x_m), (y_m, self.y_m))
        )
        left, low = min(int(columns), len(self.x_m) - 2), min(int(rows), len(self.y_m) - 2)
        part = np.log(np.maximum(self.lux[low : low + 2, left : left + 2], 1e-9))
        across, up = columns - left, rows - low
        found = np.array([1.0 - up, up]) @ part @ np.array([1.0 - across, across])
        return float(np.exp(found))


def light_map(stage: Stage, step_m: float = 0.25, height_m: float = HEAD_M) -> LightMap:
    """All lamps as they are now, facing the camera at ``height_m``, on a grid over the floor.

    Without a camera it is the mean of the four ways along the walls.
    """
    x, y = (
        (np.arange(max(round(float(side) / step_m), 2)) + 0.5) * side / max(round(float(side) / step_m), 2)
        for side in stage.enclosure.size[:2]
    )
    grid = np.stack(
        [*(each.reshape(-1) for each in np.meshgrid(x, y)), np.full(len(x) * len(y), height_m)], axis=1
    )
    ways: list[FloatArray]
    if stage.camera_at is not None:
        apart = stage.camera_at - grid
        ways = [apart / np.maximum(np.linalg.norm(apart, axis=1, keepdims=True), 1e-9)]
    else:
        ways = [
            np.tile(way, (len(grid), 1))
            for way in np.array([[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0], [0, -1.0, 0]])
        ]
    lux = np.zeros(len(grid))
    for lamp in stage.lamps:
        if lamp.output > 0.0 and lamp.fixture.id in stage.sources:
            for way in ways:
                lux += lamp.output * stage.direct(lamp.fixture.id, grid, way) / len(ways)
    sent = sum(
        lamp.output * stage.sent(lamp.fixture.id)
        for lamp in stage.lamps
        if lamp.output > 0.0 and lamp.fixture.id in stage.sources
    )
    if not isinstance(sent, int):
        for way in ways:
            for at in range(0, len(grid), 32):  # a few places at a time keep memory small
                lux[at : at + 32] += (
                    stage.enclosure.view(grid[at : at + 32], way[at : at + 32]) @ sent / len(ways)
                )
    return LightMap(x, y, lux.reshape(len(y), len(x)))
