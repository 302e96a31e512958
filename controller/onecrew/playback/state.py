"""Playback: everything that decides the light at any moment, frozen. It changes by commands and events only.

Two times run. *Real* time is the ``now`` that is passed in. *Show* time is real time less what was spent
held; fades, effects, delays and auto-follows live in it. Blackout, master, solo, without, identify and the
countdown live in real time, so they work while the show is held.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from onecrew.commands.command import PlaybackCommand
from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.fields import (
    LONG_AGO,
    EditsByCue,
    Fixtures,
    Kind,
    LightPerLamp,
    RealTime,
    ShowTime,
    What,
    array,
    per_lamp,
)
from onecrew.playback.flash_guard import FlashHistory, no_flashes
from onecrew.playback.lights import BoolArray, FloatArray, Lights
from onecrew.playback.ramp import Ramp, rest
from onecrew.show.light import Light

LEVEL, COLOUR, EFFECT = range(3)
"""Rows of ``Movement.begin`` and ``Movement.end``."""
OUTGOING, INCOMING = range(2)
"""Rows of ``EffectLayers``."""


@dataclass(frozen=True, slots=True, eq=False)
class Movement:
    """Every lamp on its way from one light to another, in show time; arrays in rig order."""

    start: Lights
    goal: Lights
    begin: Annotated[FloatArray, array(3, new=LONG_AGO)]
    """(3, n): when level, colour and effect begin to move."""
    end: Annotated[FloatArray, array(3, new=LONG_AGO)]
    """(3, n): when they have arrived."""
    curve: Annotated[NDArray[np.int8], array(dtype=np.int8)]
    """(n,): codes of ``ramp.CURVES``."""
    stops: Annotated[FloatArray, array(2)]
    """(2, n): start and goal level on the scale of the stops curve."""
    by_white: Annotated[BoolArray, array(dtype=np.bool_, new=lambda _, compiled: compiled.natural.white)]
    """(n,): the colour moves in mired and Duv, else straight in u′v′."""
    settled_at: float = field(init=False)
    """Show time from which every lamp is at its goal."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "settled_at", float(self.end.max(initial=LONG_AGO)))


@dataclass(frozen=True, slots=True, eq=False)
class EffectLayers:
    """The effects that play: for every lamp one that goes and one that comes, arrays (2, n).

    Over the time of the effect row of the movement the outgoing one loses its weight and the incoming one
    gains it. ``residue`` is what older ones still took away when they were cut off; it fades alike.
    """

    kind: Annotated[NDArray[np.int8], array(2, dtype=np.int8)]
    rate: Annotated[FloatArray, array(2, new=1.0)]
    depth: Annotated[FloatArray, array(2)]
    seed: Annotated[NDArray[np.int64], array(2, dtype=np.int64)]
    guarded: Annotated[BoolArray, array(2, dtype=np.bool_, new=True)]
    since: Annotated[FloatArray, array(2)]
    """Show time of the effect's own zero."""
    weight: Annotated[FloatArray, array(2)]
    """Weight 0–1 when the present movement of effects began."""
    residue: Annotated[FloatArray, array(3)]
    """(3, n): dip 0–1, warm in mired, green in Duv."""
    live: NDArray[np.int64] = field(init=False)
    """Places, in the flattened (2, n), of the effects that play: those that come, and those that go as long
    as they have weight."""
    silent: bool = field(init=False)
    """Nothing plays and nothing is left of what played."""

    def __post_init__(self) -> None:
        plays = self.kind > 0
        plays[OUTGOING] &= self.weight[OUTGOING] > 0.0
        object.__setattr__(self, "live", np.flatnonzero(plays))
        object.__setattr__(self, "silent", not self.live.size and not self.residue.any())


@dataclass(frozen=True, slots=True)
class Waiting:
    """A cue that was run and waits out its delay."""

    cue: str
    at: ShowTime
    afresh: bool = False
    """Every effect begins its clock then."""


@dataclass(frozen=True, slots=True)
class Counting:
    """A command that will be carried out at a real time."""

    at: RealTime
    command: Annotated[PlaybackCommand, Kind(What.COMMAND)]


@dataclass(frozen=True, slots=True)
class Take:
    """The take that runs or ran last. ``since`` is real (monotonic) time."""

    setup: str
    number: int
    running: bool
    since: RealTime
    good: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Playback:
    """What plays. Made by ``begin``, changed by ``apply`` and ``advance``, shown by ``render``."""

    ids: tuple[str, ...]
    """Fixture ids in rig order: what the places in every array mean."""
    movement: Movement
    effects: EffectLayers
    asked: LightPerLamp
    """The light every lamp goes to or is at, as a document would say it, edits included."""
    by_hand: Annotated[BoolArray, array(dtype=np.bool_)]
    """(n,): lamps that were edited by hand since the cue ran."""
    cue: str | None
    next: str | None
    waiting: Waiting | None
    follow_at: ShowTime | None
    """Show time at which the next cue runs by itself."""
    held_at: RealTime | None
    """Real time at which the show was held, None while it runs."""
    behind_s: RealTime
    """Real time less show time."""
    blackout: Ramp
    """Factor 1 → 0; ``dark`` is where it is going."""
    dark: bool
    master: Ramp
    shown: Annotated[Ramp, per_lamp(lambda playback, _: 0.0 if playback.solo else 1.0)]
    """(n,): factor of solo and without."""
    solo: Fixtures
    without: Fixtures
    pulse: Annotated[Ramp, per_lamp(0.0)]
    """(n,): weight of identify."""
    pulse_since: RealTime
    identify: Fixtures
    aside: LightPerLamp | None
    """While comparing: the edited light that waits to come back."""
    locked: bool
    countdown: Counting | None
    take: Take | None
    takes: tuple[tuple[str, int], ...]
    """Takes counted so far, by setup."""
    flashes: FlashHistory
    ran: tuple[tuple[str, ShowTime], ...] = ()
    """The cues of the take that runs or ran last, and when each began."""
    kept: EditsByCue = ()
    """Edits that were not stored when another cue ran, by the cue that they belong to."""
    advice: str = ""
    """What the cue that ran last has to say: that edits were kept. Emptied by ``apply``."""
    remark: str = ""
    """What happened by itself and deserves a sentence: a countdown that was refused. Emptied by ``apply``."""

    def show_time(self, now: float) -> float:
        """Return the show time (s) at real time ``now``."""
        return (now if self.held_at is None else self.held_at) - self.behind_s

    def edited_look(self) -> dict[str, Light]:
        """Return the light of every lamp as asked, edits included, whatever a comparison shows."""
        return dict(zip(self.ids, self.asked if self.aside is None else self.aside, strict=True))

    @property
    def held(self) -> bool:
        return self.held_at is not None

    @property
    def comparing(self) -> bool:
        return self.aside is not None


def begin(compiled: CompiledShow, now: float) -> Playback:
    """Return the playback of a show that was just opened: all black, no cue, the first cue next."""
    del now  # nothing runs yet, so nothing is reckoned from it
    n = len(compiled.ids)
    first = compiled.after(None)
    return Playback(
        ids=compiled.ids,
        movement=still(compiled, compiled.natural),
        effects=no_effects(n),
        asked=(DARK,) * n,
        by_hand=np.zeros(n, dtype=np.bool_),
        cue=None,
        next=first.number if first else None,
        waiting=None,
        follow_at=None,
        held_at=None,
        behind_s=0.0,
        blackout=rest(1.0),
        dark=False,
        master=rest(1.0),
        shown=rest(np.ones(n)),
        solo=(),
        without=(),
        pulse=rest(np.zeros(n)),
        pulse_since=0.0,
        identify=(),
        aside=None,
        locked=False,
        countdown=None,
        take=None,
        takes=(),
        flashes=no_flashes(n),
    )


def still(compiled: CompiledShow, lights: Lights) -> Movement:
    """Return the movement of lamps that have long arrived at ``lights``."""
    n = len(compiled.ids)
    long_ago = np.full((3, n), LONG_AGO)
    return Movement(
        start=lights,
        goal=lights,
        begin=long_ago,
        end=long_ago,
        curve=np.zeros(n, dtype=np.int8),
        stops=np.zeros((2, n)),
        by_white=lights.white,
    )


def no_effects(n: int) -> EffectLayers:
    """Return the effect layers of n lamps that have no effects."""
    return EffectLayers(
        kind=np.zeros((2, n), dtype=np.int8),
        rate=np.ones((2, n)),
        depth=np.zeros((2, n)),
        seed=np.zeros((2, n), dtype=np.int64),
        guarded=np.ones((2, n), dtype=np.bool_),
        since=np.zeros((2, n)),
        weight=np.zeros((2, n)),
        residue=np.zeros((3, n)),
    )
