"""Raw slots: some slots of one universe moved by hand, for a lamp of which nothing is known yet.

Every movement takes ``RAMP_S`` and is never turned before it has ended, so no slot changes its direction more
than once in that time: at most a third of a flash in a second, where WCAG 2.3.1 allows three. Only the way to
black is at once. They are black as soon as nobody asks for them any more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from onecrew.commands.light import HELD_S, RAMP_S


@dataclass(frozen=True, slots=True)
class RawSlots:
    """Slots on their way from ``start`` to ``goal``. Times are monotonic seconds, values 0–255."""

    universe: int
    address: int
    """Of the first slot, from 1."""
    start: tuple[int, ...]
    goal: tuple[int, ...]
    began: float
    until: float
    """When they go black unless they are asked for again."""
    after: tuple[int, ...] | None = None
    """Where they go when ``goal`` is reached."""

    def at(self, now: float) -> bytes:
        """Return the values that are sent at ``now``."""
        if not self.lit(now):
            return bytes(len(self.goal))
        one = self._settled(now)
        share = min(max((now - one.began) / RAMP_S, 0.0), 1.0)
        return bytes(round(a + share * (b - a)) for a, b in zip(one.start, one.goal, strict=True))

    def toward(self, goal: tuple[int, ...], now: float) -> RawSlots:
        """Return them on their way to ``goal``: now, or as soon as the movement that goes on has ended."""
        one = replace(self._settled(now), until=now + HELD_S)
        if not self.lit(now):
            black = (0,) * len(goal)
            one = replace(one, start=black, goal=black, after=None, began=max(self.began, self.until))
        if one.goal == goal:
            return replace(one, after=None)
        if now < one.began + RAMP_S:
            return replace(one, after=goal)
        return replace(one, start=one.goal, goal=goal, began=now, after=None)

    def black(self, now: float) -> RawSlots:
        """Return them black at once."""
        nothing = (0,) * len(self.goal)
        return replace(self, start=nothing, goal=nothing, after=None, began=now, until=min(self.until, now))

    def lit(self, now: float) -> bool:
        """Whether somebody still asks for them."""
        return now < self.until

    def moving(self, now: float) -> bool:
        """Whether the next frame may differ from that of ``now``."""
        return self.lit(now) and now < self.began + RAMP_S * (1 if self.after is None else 2)

    def _settled(self, now: float) -> RawSlots:
        if self.after is None or now < self.began + RAMP_S:
            return self
        return replace(self, start=self.goal, goal=self.after, began=self.began + RAMP_S, after=None)


def raw_slots(universe: int, address: int, count: int, now: float, before: RawSlots | None) -> RawSlots:
    """Return ``count`` slots at black; where others were moved before, a movement begins no sooner after
    them."""
    black = (0,) * count
    ended = now - RAMP_S if before is None else before.black(now).began
    return RawSlots(universe, address, black, black, ended, ended)
