"""What a light meter would read at the subject, worked out beside the screens while things are moved."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.plan import saying
from onecrew.plan.forecast import Forecast, LampReading
from onecrew.plan.now import forecast_now
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Place, Show
from onecrew.show.snapshot import Snapshot

if TYPE_CHECKING:
    from onecrew.show.profiles import ProfileShelf


class Reading:
    """The latest reading, and the one from before the move. ``changed`` is called when a new one is there."""

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._profiles: ProfileShelf | None = None
        self._asked: tuple[Show, Snapshot, Mapping[str, Place]] | None = None
        self._busy = False
        self.before: Forecast | None = None
        """At the start of the move."""
        self.now: Forecast | None = None

    def start_over(self) -> None:
        """The next move is another one."""
        self.before = None

    def ask(self, show: Show, snapshot: Snapshot, moved: Mapping[str, Place]) -> bool:
        """Notes what is wanted; True where ``work`` has to be started, as it is not under way."""
        self._asked = (show, snapshot, dict(moved))
        started, self._busy = not self._busy, True
        return started

    async def work(self) -> None:
        """Reads what was asked last, until nothing new has been asked meanwhile."""
        try:
            while self._asked is not None:
                (show, snapshot, moved), self._asked = self._asked, None
                if self._profiles is None:
                    self._profiles = await asyncio.to_thread(load_profiles, beside=Path(snapshot.path))
                if self.before is None:
                    self.before = await asyncio.to_thread(
                        forecast_now, show, self._profiles, snapshot.lights, {}
                    )
                self.now = await asyncio.to_thread(forecast_now, show, self._profiles, snapshot.lights, moved)
                self._changed()
        finally:
            self._busy = False

    def lines(self, lamp: str | None) -> Iterator[str]:
        """The reading in short lines: of the lamp that is chosen, else of the key; then of everything."""
        read = self.now
        if read is None or not read.lamps:
            return
        chosen = next((each for each in read.lamps if each.id == lamp), None)
        yield f"at {read.subject}:"
        if chosen is not None:
            yield _one(chosen, self._was(chosen.id))
        if saying.key_known(read):
            yield f"key {saying.lux(read.key_lux)} {saying.stops(read.key_stops)}"
        yield from (said.split(" (")[0] for said in saying.ratios(read))
        if read.missing:
            yield "relative: no photometry"
        if chosen is not None and chosen.blocked:
            yield chosen.blocked

    def _was(self, lamp: str) -> LampReading | None:
        return next((each for each in self.before.lamps if each.id == lamp), None) if self.before else None


def _one(lamp: LampReading, was: LampReading | None) -> str:
    """'hood 98 lx, −0.8 st moved', by its full light where it is dark."""
    said = f"{lamp.id} {saying.lux(lamp.lamp_lux if lamp.output > 0.0 else lamp.full_lux)}"
    if not lamp.known:
        said = lamp.id
    if lamp.output <= 0.0:
        said += " at full"
    change = saying.change(was.full_lux, lamp.full_lux) if was is not None else ""
    return f"{said}, {change}" if change else said
