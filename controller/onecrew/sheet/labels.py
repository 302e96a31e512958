"""Labels: where to write names beside points, so that they touch neither one another nor a point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

OUTSIDE_COST = 20.0
"""A square millimetre outside the frame is as bad as so many covered."""
FAR_COST = 2.0
"""Square millimetres that a label may cover before it goes further away."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, y downwards."""

    x: float
    y: float
    width: float
    height: float

    def overlap(self, other: Box) -> float:
        """Area in common."""
        across = min(self.x + self.width, other.x + other.width) - max(self.x, other.x)
        down = min(self.y + self.height, other.y + other.height) - max(self.y, other.y)
        return max(0.0, across) * max(0.0, down)

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """The point of the box that is nearest to a point."""
        return min(max(x, self.x), self.x + self.width), min(max(y, self.y), self.y + self.height)

    def outside(self, frame: Box) -> float:
        """Area that lies outside a frame."""
        return self.width * self.height - self.overlap(frame)


@dataclass(frozen=True, slots=True)
class Label:
    """A placed label: its box, and which end of its lines is nearer to its point."""

    box: Box
    anchor: str
    """SVG text-anchor: start, middle or end."""
    far: bool = False
    """So far from its point that a line should lead there."""

    @property
    def x(self) -> float:
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return self.box.x + share * self.box.width


@dataclass(slots=True)
class Placer:
    """Places labels one by one, each where it covers least."""

    frame: Box
    taken: list[Box] = field(default_factory=list)

    def point(self, x: float, y: float, radius: float) -> None:
        """Something stands here that no label may cover."""
        self.taken.append(Box(x - radius, y - radius, 2 * radius, 2 * radius))

    def place(self, x: float, y: float, gap: float, width: float, height: float) -> Label:
        """The best place for a label of this size around a point."""
        best = min(_around(x, y, gap, width, height), key=lambda label: self._cost(label))
        self.taken.append(best.box)
        return best

    def _cost(self, label: Label) -> float:
        covered = sum(label.box.overlap(other) for other in self.taken)
        return covered + OUTSIDE_COST * label.box.outside(self.frame) + (FAR_COST if label.far else 0.0)


def _around(x: float, y: float, gap: float, width: float, height: float) -> Sequence[Label]:
    """Places around a point, the ones that read best first, then further out."""
    found = []
    for times in (1.0, 2.2, 3.6):
        d, far, e = gap * times, times > 1.0, 0.7 * gap * times
        for left, top, anchor in (
            (x + d, y - height / 2, "start"),
            (x - d - width, y - height / 2, "end"),
            (x - width / 2, y + d, "middle"),
            (x - width / 2, y - d - height, "middle"),
            (x + e, y + e, "start"),
            (x + e, y - e - height, "start"),
            (x - e - width, y + e, "end"),
            (x - e - width, y - e - height, "end"),
        ):
            found.append(Label(Box(left, top, width, height), anchor, far))
    return found
