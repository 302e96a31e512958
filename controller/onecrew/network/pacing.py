"""Pacing: when a universe may leave, and when it must. Pure; times are monotonic seconds.

The rules are E1.31-2018 §6.6; Art-Net's own (a frame rate no higher than E1.11 allows, a repeat at least
every 4 s) are met by the same numbers, so both outputs keep one period.
"""

from __future__ import annotations

from typing import NamedTuple

PERIOD_S = 1.0 / 44.0
"""§6.6.1: no faster than E1.11 allows. A full packet takes 22 676 µs there, so 44 Hz (22 727 µs) fits."""


class Repeat(NamedTuple):
    """How unchanged slots are sent again."""

    packets: int
    """Packets at the full rate after a change, before the stream falls silent."""
    keep_alive_s: float
    """How often a silent stream repeats itself."""


PLAIN = Repeat(3, 0.9)
"""§6.6.2: three packets, then one every 800 to 1000 ms."""
WIFI = Repeat(22, 0.1)
"""For networks that lose packets, several in a row too: half a second, then ten a second; more than §6.6.2
asks for. ``python -m tests.benchmarks wifi`` compares them."""
STEADY = Repeat(1 << 62, 0.9)
"""The full rate for ever."""
ROUNDING_S = 1e-6
"""A call this much early is on time: a grid of k/44 s and last + 1/44 s differ in the last bit."""
NEVER_S = float("inf")


class SyncPacer:
    """When the synchronisation packet behind the data is due."""

    __slots__ = ("_at_s", "_delay_s", "_not_before_s")

    def __init__(self, delay_s: float = 0.0) -> None:
        """``delay_s`` is left between the data and the packet."""
        self._delay_s = delay_s
        self._at_s = NEVER_S
        self._not_before_s = -NEVER_S

    def data_left(self, now: float) -> None:
        """Notes that data left at ``now``, which a packet has yet to follow."""
        self._at_s = min(self._at_s, max(now + self._delay_s, self._not_before_s))

    def next_due(self) -> float:
        """When the packet is due; infinity if no data waits for it."""
        return self._at_s

    def take(self, now: float) -> bool:
        """Whether the packet is to be sent now; if so it counts as sent. Never above the rate of the data."""
        if now + ROUNDING_S < self._at_s:
            return False
        self._not_before_s = now + PERIOD_S
        self._at_s = NEVER_S
        return True


class Pacer:
    """The pace of one universe.

    Two packets are never closer than ``PERIOD_S``: the interval runs from the moment the last one left, so a
    late packet delays its followers instead of letting them catch up in a burst.
    """

    __slots__ = ("_last_s", "_quiet_until_s", "_repeat", "_repeats_left")

    def __init__(self, repeat: Repeat = PLAIN) -> None:
        self._last_s = -NEVER_S
        self._quiet_until_s = -NEVER_S
        self.repeat_as(repeat)

    def repeat_as(self, repeat: Repeat) -> None:
        """Repeats unchanged slots so from now on."""
        self._repeat = repeat
        self._repeats_left = repeat.packets

    def expect(self, moment: float) -> None:
        """A change is coming at ``moment``: a repeat before it would only hold it up."""
        self._quiet_until_s = moment

    def may_send_at(self) -> float:
        """The earliest moment at which a change may leave."""
        return self._last_s + PERIOD_S

    def must_send_at(self, changed: bool) -> float:
        """The moment at which the next packet is due, with or without a change waiting."""
        if changed:
            return self._last_s + PERIOD_S
        latest = self._last_s + self._repeat.keep_alive_s
        if self._repeats_left:
            return max(self._last_s + PERIOD_S, min(self._quiet_until_s, latest))
        return latest

    def sent(self, now: float, changed: bool) -> None:
        """Notes that a packet left at ``now``."""
        self._last_s = now
        if changed:
            self._repeats_left = self._repeat.packets
        elif self._repeats_left:
            self._repeats_left -= 1
