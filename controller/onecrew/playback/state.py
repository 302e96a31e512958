"""Playback: everything that decides the light at any moment, frozen. It changes by commands and events only.

Two times run. *Real* time is the ``now`` that is passed in. *Show* time is real time less what was spent
held; fades, effects, delays and auto-follows live in it. Blackout, master, solo, without, identify and the
countdown live in real time, so they work while the show is held.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

import numpy as np
from numpy.typing import ArrayLike, NDArray

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.commands.command import PlaybackCommand
from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.effect_layers import EffectLayers, no_effects
from onecrew.playback.fields import (
    LONG_AGO,
    EditsByCue,
    Fixtures,
    Kind,
    LightPerLamp,
    Number,
    Per,
    RealTime,
    ShowTime,
    What,
    array,
    per_lamp,
)
from onecrew.playback.flash_guard import FlashHistory, no_flashes
from onecrew.playback.lights import Lights
from onecrew.show.light import Light

LEVEL, COLOUR, EFFECT = range(3)
"""Rows of ``Movement.begin`` and ``Movement.end``."""


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
    """(n,): codes of ``fades.CURVES``."""
    stops: Annotated[FloatArray, array(2)]
    """(2, n): start and goal level on the scale of the stops curve."""
    by_white: Annotated[BoolArray, array(dtype=np.bool_, new=lambda _, compiled: compiled.natural.white)]
    """(n,): the colour moves in mired and Duv, else straight in u′v′."""
    settled_at: float = field(init=False)
    """Show time from which every lamp is at its goal."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "settled_at", float(self.end.max(initial=LONG_AGO)))


@dataclass(frozen=True, slots=True, eq=False)
class Ramp:
    """From ``start`` at time ``begin`` to ``goal`` at ``end`` (s); all arrays of one shape, () or (n,)."""

    start: Annotated[FloatArray, array(per=Per.OWNER)]
    goal: Annotated[FloatArray, array(per=Per.OWNER)]
    begin: Annotated[FloatArray, array(per=Per.OWNER, real=True, new=LONG_AGO)]
    end: Annotated[FloatArray, array(per=Per.OWNER, real=True, new=LONG_AGO)]
    settled_at: float = field(init=False)
    """Time from which nothing moves any more."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "settled_at", float(self.end.max(initial=LONG_AGO)))

    def at(self, now: float) -> FloatArray:
        """Return the value at ``now``; exactly the goal from ``end`` on."""
        if now >= self.settled_at:
            return self.goal
        span = np.maximum(self.end - self.begin, 1e-9)
        progress = np.clip((now - self.begin) / span, 0.0, 1.0)
        return np.where(now >= self.end, self.goal, self.start + (self.goal - self.start) * progress)

    def to(self, goal: ArrayLike, now: float, begin: ArrayLike, span_s: float) -> Ramp:
        """Return the ramp that leaves from where this one is at ``now`` and takes ``span_s`` from ``begin``.

        Where the goal is reached already, nothing moves.
        """
        start = self.at(now)
        goal = np.broadcast_to(np.asarray(goal, dtype=np.float64), start.shape)
        still = start == goal
        begin = np.where(still, now, begin)
        end = np.where(still, now, begin + span_s)
        return Ramp(start, goal, begin, end)


def rest(value: ArrayLike) -> Ramp:
    """Return a ramp that has long arrived at ``value``."""
    goal = np.asarray(value, dtype=np.float64)
    long_ago = np.full(goal.shape, LONG_AGO)
    return Ramp(goal, goal, long_ago, long_ago)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A cue that was run and waits out its delay."""

    cue: str
    at: ShowTime
    afresh: bool = False
    """Every effect begins its clock then."""
    over: LightPerLamp | None = None
    """The light as it was asked for when the cue was run: what is edited until then."""


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


@dataclass(frozen=True, slots=True)
class Still:
    """One lamp alone, or every lamp out, above everything but the blackout; real time."""

    fixtures: Fixtures
    """One, or none for every lamp out."""
    output: Number
    """Fraction of full light."""
    cct_k: Number | None
    duv: Number
    until: RealTime
    """When it ends unless it was asked for again."""
    words: str
    """What clients say of it."""


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
    still: Still | None = None
    identify_until: RealTime | None = None
    """When it ends unless it is asked for again; None: when somebody ends it."""
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
