"""Raw slots: some slots of one universe moved by hand, for a lamp of which nothing is known yet.

Every movement takes ``RAMP_S`` and is never turned before it has ended, so no slot changes its direction more
than once in that time: at most a third of a flash in a second, where WCAG 2.3.1 allows three. Only the way to
black is at once. They are black as soon as nobody asks for them any more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from onecrew.commands.light import HELD_S, RAMP_S, RaiseSlots
from onecrew.errors import Refused
from onecrew.playback.state import Playback
from onecrew.show.patching import footprint
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture


class RaisedSlots:
    """What is raised on a desk, on top of its lamps. Times are monotonic seconds."""

    def __init__(self) -> None:
        self.latest: RawSlots | None = None
        """What was asked for last, lit or black by now; None before the first."""
        self._universes: tuple[int, ...] = ()
        """Where slots were raised and no lamp is: these are sent from then on, so that black arrives."""

    def obey(
        self,
        command: RaiseSlots,
        playback: Playback,
        fixtures: Sequence[Fixture],
        profiles: Mapping[str, Profile],
        now: float,
    ) -> bool:
        """Moves slots that no lamp is patched to, or those of a lamp while a still has every lamp out.

        Returns whether that begins; raises ``Refused``.
        """
        if not command.slots:
            self.lower(now)
            return False
        _refuse_where_it_would_harm(command, playback, fixtures, profiles)
        before, place = self.latest, (command.universe, command.address, len(command.slots))
        begins = before is None or not before.lit(now)
        if before is None or place != (before.universe, before.address, len(before.goal)):
            before = raw_slots(*place, now, before)
        self.latest = before.toward(command.slots, now)
        if command.universe not in self._universes:
            self._universes += (command.universe,)
        return begins

    def lower(self, now: float) -> None:
        """Takes them to black at once."""
        if self.latest is not None:
            self.latest = self.latest.black(now)

    def with_theirs(self, lamps: tuple[int, ...]) -> tuple[int, ...]:
        """Returns the universes of the lamps, then those that are sent for raised slots alone."""
        return lamps + tuple(number for number in self._universes if number not in lamps)

    def over(self, slots: NDArray[np.uint8], universes: Sequence[int], now: float) -> NDArray[np.uint8]:
        """Returns the slots of the lamps, (universes of lamps, 512), and what is raised in place of theirs,
        (universes, 512)."""
        more = len(universes) - len(slots)
        if more:
            slots = np.concatenate((slots, np.zeros((more, slots.shape[1]), dtype=np.uint8)))
        raw = self.lit(now)
        if raw is not None:
            row, first = universes.index(raw.universe), raw.address - 1
            slots[row, first : first + len(raw.goal)] = np.frombuffer(raw.at(now), dtype=np.uint8)
        return slots

    def lit(self, now: float) -> RawSlots | None:
        """What is raised at ``now``; None where nothing is."""
        return self.latest if self.latest is not None and self.latest.lit(now) else None

    def moving(self, now: float) -> bool:
        """Whether the next frame may differ from that of ``now`` for them."""
        return self.latest is not None and self.latest.moving(now)

    def end(self, now: float) -> float | None:
        """When they go black by themselves; None where none is lit at ``now``."""
        raw = self.lit(now)
        return None if raw is None else raw.until


def _refuse_where_it_would_harm(
    command: RaiseSlots, playback: Playback, fixtures: Sequence[Fixture], profiles: Mapping[str, Profile]
) -> None:
    if playback.locked:
        raise Refused("the desk is locked, and this would raise slots: unlock first")
    if playback.dark:
        raise Refused("the blackout is on: end it first")
    wanted, still = range(command.address, command.address + len(command.slots)), playback.still
    if command.fixture is not None and (still is None or still.fixtures):
        raise Refused("other lamps are lit: put every lamp out first, onecrew send still dark")
    for lamp in fixtures:
        taken = footprint(lamp, profiles)
        if lamp.id == command.fixture and wanted.start in taken and wanted[-1] in taken:
            continue
        if lamp.universe == command.universe and taken.start < wanted.stop and wanted.start < taken.stop:
            raise Refused(
                f"{wanted[0]}–{wanted[-1]} overlaps {lamp.id}, which has {taken[0]}–{taken[-1]}: "
                "give the lamp another address, or delete that one from the rig"
            )


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
