"""What a light meter would read at the subjects, worked out beside the screens while they go on."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from onecrew.plan import saying
from onecrew.plan.flicker import advice
from onecrew.plan.wants import Wants
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Place, Show
from onecrew.show.snapshot import Snapshot

if TYPE_CHECKING:
    from onecrew.plan.forecast import Forecast, LampReading
    from onecrew.plan.inverse import Answer
    from onecrew.plan.light_map import LightMap
    from onecrew.show.profiles import ProfileLibrary


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be read: the show and its lights, things that stand elsewhere, with a map or without."""

    show: Show
    snapshot: Snapshot
    moved: Mapping[str, Place]
    mapped: bool = False


class Readings:
    """The latest readings, and those from before the move. ``changed`` is called when new ones are there.

    The work is done in a thread, one question at a time; of those that come meanwhile the last one counts.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._profiles: ProfileLibrary | None = None
        self._asked: Question | None = None
        self._busy = False
        self._known: Hashable = None
        self._read_of: Hashable = None
        self.before: tuple[Forecast, ...] = ()
        """At the start of the move, one for each subject."""
        self.now: tuple[Forecast, ...] = ()
        self.light: LightMap | None = None
        """Over the floor, where it was asked for."""
        self.flicker: tuple[str, ...] = ()
        """What to mind about the shutter."""

    def start_over(self) -> None:
        """The next move is another one."""
        self.before = ()

    def ask(self, question: Question) -> bool:
        """Notes what is wanted; True where ``work`` has to be started, as it is not under way."""
        self._asked, self._known = question, standing(question)
        started, self._busy = not self._busy, True
        return started

    def ask_when_still(self, question: Question) -> bool:
        """The same, but only where light or room changed since it was last asked, and nothing fades."""
        known = standing(question)
        if question.snapshot.fade is not None or known == self._known:
            return False
        return self.ask(question)

    def fresh(self, show: Show, snapshot: Snapshot) -> bool:
        """Whether the readings are of this light in this room."""
        return bool(self.now) and self._read_of == standing(Question(show, snapshot, {}))

    async def work(self) -> None:
        """Reads what was asked last, until nothing new has been asked meanwhile."""
        try:
            while self._asked is not None:
                question, self._asked = self._asked, None
                profiles = await self._library(question.snapshot)
                await asyncio.to_thread(self._read, question, profiles)
                self._read_of = standing(question)
                self._changed()
        finally:
            self._busy = False

    def _read(self, question: Question, profiles: ProfileLibrary) -> None:
        # The forecast brings numpy and the mixing of lamps with it: not before the screens' first paint.
        from onecrew.plan.forecast import forecasts
        from onecrew.plan.light_map import light_map
        from onecrew.plan.now import stage_now

        show, lights = question.show, question.snapshot.lights
        if question.moved and not self.before:
            self.before = forecasts(stage_now(show, profiles, lights, {}), show.camera)
        stage = stage_now(show, profiles, lights, question.moved)
        self.now = forecasts(stage, show.camera)
        self.light = light_map(stage) if question.mapped else None
        self.flicker = tuple(advice(show.camera, show.rig.fixtures, profiles, show.room.mains_hz))

    async def wanted(self, show: Show, snapshot: Snapshot, wants: Wants) -> Answer:
        """The levels and the place that would give a reading at the first subject."""
        profiles = await self._library(snapshot)

        def work() -> Answer:
            from onecrew.plan.forecast import forecast
            from onecrew.plan.inverse import answer
            from onecrew.plan.now import stage_now

            stage = stage_now(show, profiles, snapshot.lights, {})
            return answer(stage, forecast(stage, show.camera), wants, profiles)

        return await asyncio.to_thread(work)

    async def _library(self, snapshot: Snapshot) -> ProfileLibrary:
        if self._profiles is None:
            self._profiles = await asyncio.to_thread(load_profiles, beside=Path(snapshot.path))
        return self._profiles

    # ── in words ────────────────────────────────────────────────────────────────────────────────

    def lines(self, lamp: str | None) -> Iterator[str]:
        """The readings in short lines: of the lamp that is chosen, else of the key; then of everything."""
        for index, read in enumerate(self.now):
            if read.lamps:
                yield from self._at(read, self.before[index] if index < len(self.before) else None, lamp)

    def shares(self) -> dict[str, str]:
        """By lamp that is lit: its share of the light at the first subject, facing the camera."""
        lamps = self.now[0].lamps if self.now else ()
        return {lamp.id: f"{100 * lamp.share:.0f} %" for lamp in lamps if lamp.output > 0.0}

    def lamp_lines(self, lamp: str) -> Iterator[str]:
        """One lamp at every subject: 'at baker: 98 lx facing it, +0.4 st to the notes, share 12 %'."""
        for read in self.now:
            found = _of(read, lamp)
            if found is None or found.output <= 0.0:
                continue
            said = []
            if found.known and found.lamp_lux > 0.0:
                to_notes = saying.stops(math.log2(found.lamp_lux / read.nominal_lux))
                said.append(f"{saying.lux(found.lamp_lux)} facing it, {to_notes} to the notes")
            if found.to_key is not None and lamp not in read.key:
                said.append(f"{saying.stops(found.to_key)} to the key")
            said.append(f"share {100 * found.share:.0f} %")
            yield f"at {read.subject}: {', '.join([*said, *filter(None, [found.blocked])])}"

    def _at(self, read: Forecast, before: Forecast | None, lamp: str | None) -> Iterator[str]:
        chosen, was = _of(read, lamp), _of(before, lamp)
        yield f"at {read.subject}:"
        if chosen is not None:
            yield _one(chosen, was)
        if read.absolute:
            yield f"to camera {saying.lux(read.camera_lux)} {saying.stops(read.camera_stops)}"
        if saying.key_known(read):
            yield f"key {saying.lux(read.key_lux)} {saying.stops(read.key_stops)}"
        yield from (said.split(" (")[0] for said in saying.ratios(read))
        if read.missing:
            yield "relative: no photometry"
        if chosen is not None and chosen.blocked:
            yield chosen.blocked


def standing(question: Question) -> Hashable:
    """What the readings depend on: the show as it is, and what each lamp does, or goes to under an effect."""
    snapshot = question.snapshot
    lights = tuple(
        (name, round(light.output if light.effect is None else light.goal_level, 4), light.goal_xy)
        for name, light in snapshot.lights.items()
    )
    return id(question.show), snapshot.revision, question.mapped, lights


def _of(read: Forecast | None, lamp: str | None) -> LampReading | None:
    return next((each for each in read.lamps if each.id == lamp), None) if read is not None else None


def _one(lamp: LampReading, was: LampReading | None) -> str:
    """'hood 98 lx, −0.8 st moved', by its full light where it is dark."""
    said = f"{lamp.id} {saying.lux(lamp.lamp_lux if lamp.output > 0.0 else lamp.full_lux)}"
    if not lamp.known:
        said = lamp.id
    if lamp.output <= 0.0:
        said += " at full"
    change = saying.change(was.full_lux, lamp.full_lux) if was is not None else ""
    return f"{said}, {change}" if change else said
