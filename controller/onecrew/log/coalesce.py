"""Coalesce: a flood of changes of the same lamps, put together to an entry every half second. Pure.

The first change of a lamp that was at rest is logged at once; those that follow within ``SPAN_S`` wait and
are logged together, from where the first of them began to where the last one went.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from onecrew.language import saying
from onecrew.log.happenings import Happening, changed
from onecrew.show.light import Light

SPAN_S = 0.5
MASTER = "master"
LAMP = "lamp "


@dataclass(slots=True)
class Waiting:
    """Changes of one lamp (or of the master) that are not told yet."""

    first: Light | float
    last: Light | float
    times: int
    what: str


class Coalescer:
    """Holds back what floods in. Times are monotonic seconds."""

    def __init__(self, span_s: float = SPAN_S) -> None:
        self._span_s = span_s
        self._told_at: dict[str, float] = {}
        self._waiting: dict[str, Waiting] = {}

    def take(self, happening: Happening, now: float) -> Iterator[Happening]:
        """What may be told of it now; the rest waits for ``due``."""
        if happening.master is not None:
            if self._holds(MASTER, *happening.master, "master", now):
                return
            yield happening
            return
        free = {
            name: pair
            for name, pair in happening.lights.items()
            if not self._holds(LAMP + name, *pair, happening.what, now)
        }
        if free:
            fade_s = happening.data.get("fade_s", 0.0)
            yield happening if len(free) == len(happening.lights) else changed(free, happening.what, fade_s)

    def due(self) -> float:
        """When something that waits may be told; infinity if nothing waits."""
        return min((self._told_at[key] + self._span_s for key in self._waiting), default=float("inf"))

    def told(self, now: float, everything: bool = False) -> Iterator[Happening]:
        """What may be told now; with ``everything``, all that waits: something else is about to be told."""
        ready = [k for k in self._waiting if everything or now >= self._told_at[k] + self._span_s]
        lamps: dict[str, tuple[Light, Light]] = {}
        times, what = 1, "set"
        for key in ready:
            waiting = self._waiting.pop(key)
            self._told_at[key] = now
            if isinstance(waiting.first, Light) and isinstance(waiting.last, Light):
                lamps[key.removeprefix(LAMP)] = (waiting.first, waiting.last)
                times, what = max(times, waiting.times), waiting.what
            elif not isinstance(waiting.last, Light):
                yield _master(waiting.first, waiting.last, waiting.times)
        if lamps:
            yield changed(lamps, what, 0.0, times)

    def _holds(self, key: str, old: Light | float, new: Light | float, what: str, now: float) -> bool:
        waiting = self._waiting.get(key)
        if waiting is not None:
            waiting.last, waiting.what = new, what
            waiting.times += 1
            return True
        if now < self._told_at.get(key, -float("inf")) + self._span_s:
            self._waiting[key] = Waiting(old, new, 1, what)
            return True
        self._told_at[key] = now
        return False


def _master(first: Light | float, level: float, times: int) -> Happening:
    often = f" ({times} changes)" if times > 1 else ""
    data = {"from": first, "level": level, "changes": times}
    return Happening("light", "master", f"master {saying.per_cent(level)}{often}", data)
