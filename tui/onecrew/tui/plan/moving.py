"""Where a thing comes to stand when it is moved: steps, walls and the pointer. Pure; lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass

from onecrew.language.places import say_length
from onecrew.language.saying import minus
from onecrew.plan.assumed import FLAT_HEIGHT_M, HEAD_M, LAMP_M, LENS_M
from onecrew.show.photometry import Units
from onecrew.show.show import Place

WALL_M = 0.1
"""What is put to a wall stands this far before it: a lamp or a lens has a depth."""
PULL_M = 0.15
"""The pointer lets go of a wall when it is further than this from where a thing stands before it."""
FURTHEST_M = 50.0
HEIGHTS = {"lamp": LAMP_M, "camera": LENS_M, "subject": HEAD_M}
"""What the forecast assumes where no height is known."""


@dataclass(frozen=True, slots=True)
class Walls:
    """The room on the plan."""

    width_m: float
    depth_m: float

    def stops(self, axis: int) -> tuple[float, float]:
        """Where something stands that is put to the left and right, or lower and upper wall."""
        far = (self.width_m, self.depth_m)[axis]
        return min(WALL_M, far / 2), max(far - WALL_M, far / 2)

    def stepped(self, axis: int, at: float, step: float) -> float:
        """A step along an axis. It ends at a wall that lies on the way; the next one leads through it."""
        there = min(max(at + step, -FURTHEST_M), FURTHEST_M)
        for stop in self.stops(axis):
            if (at - stop) * (there - stop) < -1e-9:
                return round(stop, 3)
        return round(there, 3)

    def pulled(self, axis: int, at: float, within: float = PULL_M) -> float:
        """A place that the pointer chose, at a wall where it is near to one."""
        near = min(self.stops(axis), key=lambda stop: abs(stop - at))
        chosen = near if abs(near - at) <= within else min(max(at, -FURTHEST_M), FURTHEST_M)
        return round(chosen, 2)


def height_of(kind: str, place: Place) -> float:
    """The height of a thing, or what is assumed of it."""
    return HEIGHTS.get(kind, FLAT_HEIGHT_M) if place.height_m is None else place.height_m


def aim_at(place: Place, x_m: float, y_m: float) -> float | None:
    """The aim from a place at another, in whole degrees; None where they are the same."""
    across, up = x_m - place.x_m, y_m - place.y_m
    return None if math.hypot(across, up) < 0.05 else float(round(math.degrees(math.atan2(across, up))) % 360)


def where(place: Place, units: Units) -> list[str]:
    """A place on the plan in words."""
    x, y = (say_length(each, units) for each in (place.x_m, place.y_m))
    said = [f"{x} from left wall", f"{y} from lower wall"]
    if place.height_m is not None:
        said.append(f"height {say_length(place.height_m, units)}")
    aims = [] if place.aim_deg is None else [f"aim {place.aim_deg:.0f}° clockwise"]
    aims += [] if place.tilt_deg is None else [minus(f"tilt {place.tilt_deg:+.0f}°")]
    return [*said, *([", ".join(aims)] if aims else [])]
