"""State: the desk at one moment. Snapshots, the take log and OSC feedback all select from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.engine.desk import Desk
from onecrew.engine.held_lamps import HeldLamp, held_lamps
from onecrew.engine.raw_slots import RawSlots
from onecrew.fixtures.packing import ByteArray
from onecrew.fixtures.report import FixtureReport
from onecrew.language.saying import DELETED
from onecrew.playback.edits import edited
from onecrew.playback.fades import dimmed, showing
from onecrew.playback.lights import Frame, Lights, light_at
from onecrew.playback.render import auto_follow_left_s, countdown_state, fade_state, render, still_lights
from onecrew.playback.state import Playback
from onecrew.show.light import Light
from onecrew.show.profile import Mode
from onecrew.show.show import Cue, Show
from onecrew.show.snapshot import CountdownState, FadeState, RaisedState

SAME = 1e-6
"""Levels that differ by less are one."""


@dataclass(frozen=True)
class State:
    """What the desk does at monotonic time ``now`` (s); what costs time is worked out when asked for."""

    desk: Desk
    playback: Playback
    show: Show
    now: float

    @property
    def cue(self) -> Cue | None:
        """The cue that ran last, if the show still has it."""
        return self.show.cue(self.playback.cue)

    @property
    def cue_name(self) -> str:
        """The name of the cue that ran last, or that it was deleted since."""
        if self.cue is not None:
            return self.cue.name
        return DELETED if self.playback.cue is not None else ""

    @property
    def next(self) -> Cue | None:
        return self.show.cue(self.playback.next)

    @cached_property
    def fade(self) -> FadeState | None:
        return fade_state(self.playback, self.now, self.desk.compiled)

    @property
    def countdown(self) -> CountdownState | None:
        return countdown_state(self.playback, self.now)

    @property
    def auto_follow_left_s(self) -> float | None:
        return auto_follow_left_s(self.playback, self.now)

    @cached_property
    def edited(self) -> set[str]:
        """Lamps whose light was changed by hand and differs from the cue's."""
        return edited(self.playback, self.desk.compiled)

    @cached_property
    def frame(self) -> Frame:
        if self.playback is self.desk.playback:
            return self.desk.frame(self.now)
        return render(self.playback, self.now, self.desk.compiled)

    @cached_property
    def levels(self) -> FloatArray:
        """The levels that the slots of every lamp show, as in ``reports``."""
        levels = self.desk.encoder.levels(self.frame, self._encoded)
        for row, held in self._held.items():
            levels[row] = held.seen.level
        return levels

    @property
    def raised(self) -> RaisedState | None:
        """The slots that are raised by hand, and the lamps that they hold."""
        raw = self.desk.raised.lit(self.now)
        if raw is None:
            return None
        names = tuple(self.playback.ids[row] for row in self._held)
        slots = tuple(raw.at(self.now))
        return RaisedState(universe=raw.universe, address=raw.address, slots=slots, fixtures=names)

    @cached_property
    def before_master(self) -> Lights:
        """Level and colour of every lamp, without effects and whatever scales the look as a whole."""
        playback = self.playback
        return showing(playback.movement, playback.show_time(self.now), self.desk.compiled)

    @property
    def modes(self) -> list[Mode]:
        """The mode of every fixture, in rig order."""
        modes = (self.desk.profiles[one.profile].mode(one.mode) for one in self.show.rig.fixtures)
        return [mode for mode in modes if mode is not None]

    @cached_property
    def reports(self) -> list[FixtureReport]:
        """What every lamp is sent and gives, in rig order."""
        return [report for part in self.report_parts() for report in part]

    def report_parts(self) -> Iterator[list[FixtureReport]]:
        """The same, some lamps at a time."""
        desk, white_balance_k = self.desk, self.show.camera.white_balance_k
        parts = desk.prerenderer.reports(self.playback, self.now)
        if parts is None:
            parts = desk.encoder.reports(self.frame, white_balance_k)
        if not self._held:
            return parts
        held = {self.playback.ids[row]: lamp for row, lamp in self._held.items()}
        return ([held[one.id].instead_of(one) if one.id in held else one for one in part] for part in parts)

    @cached_property
    def _held(self) -> dict[int, HeldLamp]:
        """The lamps that raised slots hold, by their place in the rig."""
        desk, raw = self.desk, self.desk.raised.lit(self.now)
        if raw is None:
            return {}
        sent = desk.raised.over(self._encoded.copy(), desk.universes, self.now)
        rows = {universe: row.tobytes() for universe, row in zip(desk.universes, sent, strict=True)}
        return held_lamps(raw, rows, self.show, desk.profiles)

    @cached_property
    def _encoded(self) -> ByteArray:
        """The slots of every universe that has lamps, (universes, 512), without what is raised by hand."""
        slots = self.desk.prerenderer.slots(self.playback, self.now)
        return self.desk.encoder.encode(self.frame) if slots is None else slots

    @cached_property
    def lights(self) -> list[Light]:
        """What every lamp does as a document says it: as asked where it has arrived, else as it shows.

        Master, blackout, solo and without count; an effect stands as an effect; identify is left out.
        """
        playback, now = self.playback, self.now
        if playback.still is not None:
            alone = still_lights(playback.still, self.desk.compiled)
            return [light_at(alone, lamp, None) for lamp in range(len(playback.ids))]
        time = playback.show_time(now)
        here = self.before_master
        moving = np.any(playback.movement.end > time, axis=0).tolist()
        levels = np.clip(here.level * dimmed(playback, now), 0.0, 1.0).tolist()
        lights = []
        for lamp, asked in enumerate(playback.asked):
            light = light_at(here, lamp, asked.effect) if moving[lamp] else asked
            if abs(light.level - levels[lamp]) > SAME:
                light = light.model_copy(update={"level": levels[lamp]})
            lights.append(light)
        return lights


def state_of(desk: Desk, now: float, playback: Playback | None = None) -> State:
    """Return the state at monotonic time ``now``, of another ``playback`` of the show if one is given."""
    return _state(desk, playback or desk.playback, desk.revision, desk.raised.latest, now)


@lru_cache(maxsize=2)
def _state(desk: Desk, playback: Playback, revision: int, raised: RawSlots | None, now: float) -> State:
    """The state of one frame is made once, whoever asks for it; ``revision`` stands for the show."""
    del revision, raised
    return State(desk, playback, desk.show, now)
