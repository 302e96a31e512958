"""Playback: everything that decides the light at any moment, frozen. It changes by commands and events only.

Two times run. *Real* time is the ``now`` that is passed in. *Show* time is real time less what was spent
held; fades, effects, delays and auto-follows live in it. Blackout, master, solo, without, identify and the
countdown live in real time, so they work while the show is held.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.commands.models import Back, Blackout, Go, Hold, Lock, Recall, TakeEnd, TakeStart
from onecrew.playback.frame import BoolArray, FloatArray
from onecrew.playback.glide import Glide, rest
from onecrew.playback.lights import Lights
from onecrew.playback.score import DARK, Score
from onecrew.playback.watch import Watch, fresh_watch
from onecrew.show.light import Light

LONG_AGO = -1e18
LEVEL, COLOUR, EFFECT = range(3)
"""Rows of ``Movement.begin`` and ``Movement.end``."""
OUTGOING, INCOMING = range(2)
"""Rows of ``Voices``."""


@dataclass(frozen=True, slots=True, eq=False)
class Movement:
    """Every lamp on its way from one light to another, in show time; arrays in rig order."""

    start: Lights
    goal: Lights
    begin: FloatArray
    """(3, n): when level, colour and effect begin to move."""
    end: FloatArray
    """(3, n): when they have arrived."""
    curve: NDArray[np.int8]
    """(n,): codes of ``curves``."""
    stops: FloatArray
    """(2, n): start and goal level on the scale of the stops curve."""
    by_white: BoolArray
    """(n,): the colour moves in mired and Duv, else straight in u′v′."""
    settled_at: float
    """Show time from which every lamp is at its goal."""


@dataclass(frozen=True, slots=True, eq=False)
class Voices:
    """The effects that play: for every lamp one that goes and one that comes, arrays (2, n).

    Over the time of the effect row of the movement the outgoing one loses its weight and the incoming one
    gains it. ``residue`` is what older ones still took away when they were cut off; it fades alike.
    """

    kind: NDArray[np.int8]
    rate: FloatArray
    depth: FloatArray
    seed: NDArray[np.int64]
    guarded: BoolArray
    since: FloatArray
    """Show time of the effect's own zero."""
    weight: FloatArray
    """Weight 0–1 when the present movement of effects began."""
    residue: FloatArray
    """(3, n): dip 0–1, warm in mired, green in Duv."""
    live: NDArray[np.int64]
    """Places, in the flattened (2, n), of the voices that play."""
    silent: bool
    """Nothing plays and nothing is left of what played."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A cue that was run and waits out its delay."""

    cue: str
    at: float
    """Show time."""


CountdownCommand = Go | Back | Recall | Hold | Blackout | Lock | TakeStart | TakeEnd


@dataclass(frozen=True, slots=True)
class Counting:
    """A command that will be carried out at a real time."""

    at: float
    command: CountdownCommand


@dataclass(frozen=True, slots=True)
class Take:
    """The take that runs or ran last. ``since`` is real (monotonic) time."""

    setup: str
    number: int
    running: bool
    since: float
    good: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Playback:
    """What plays. Made by ``begin``, changed by ``apply`` and ``advance``, shown by ``render``."""

    ids: tuple[str, ...]
    """Fixture ids in rig order: what the places in every array mean."""
    movement: Movement
    voices: Voices
    asked: tuple[Light, ...]
    """The light every lamp goes to or is at, as a document would say it, edits included."""
    marked: BoolArray
    """(n,): lamps that were edited by hand since the cue ran."""
    cue: str | None
    next: str | None
    waiting: Waiting | None
    follow_at: float | None
    """Show time at which the next cue runs by itself."""
    held_at: float | None
    """Real time at which the show was held, None while it runs."""
    behind_s: float
    """Real time less show time."""
    blackout: Glide
    """Factor 1 → 0; ``dark`` is where it is going."""
    dark: bool
    master: Glide
    shown: Glide
    """(n,): factor of solo and without."""
    solo: tuple[str, ...]
    without: tuple[str, ...]
    breath: Glide
    """(n,): weight of identify."""
    breath_since: float
    identify: tuple[str, ...]
    aside: tuple[Light, ...] | None
    """While comparing: the edited light that waits to come back."""
    locked: bool
    countdown: Counting | None
    take: Take | None
    takes: tuple[tuple[str, int], ...]
    """Takes counted so far, by setup."""
    watch: Watch
    remark: str = ""
    """What happened by itself and deserves a sentence: a countdown that was refused. Emptied by ``apply``."""

    def show_time(self, now: float) -> float:
        """Return the show time (s) at real time ``now``."""
        return (now if self.held_at is None else self.held_at) - self.behind_s

    @property
    def held(self) -> bool:
        return self.held_at is not None

    @property
    def comparing(self) -> bool:
        return self.aside is not None


def begin(score: Score, now: float) -> Playback:
    """Return the playback of a show that was just opened: all black, no cue, the first cue next."""
    del now  # nothing runs yet, so nothing is reckoned from it
    n = len(score.ids)
    first = score.after(None)
    return Playback(
        ids=score.ids,
        movement=still(score, score.natural),
        voices=no_voices(n),
        asked=(DARK,) * n,
        marked=np.zeros(n, dtype=np.bool_),
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
        breath=rest(np.zeros(n)),
        breath_since=0.0,
        identify=(),
        aside=None,
        locked=False,
        countdown=None,
        take=None,
        takes=(),
        watch=fresh_watch(n),
    )


def still(score: Score, lights: Lights) -> Movement:
    """Return the movement of lamps that have long arrived at ``lights``."""
    n = len(score.ids)
    long_ago = np.full((3, n), LONG_AGO)
    return Movement(
        start=lights,
        goal=lights,
        begin=long_ago,
        end=long_ago,
        curve=np.zeros(n, dtype=np.int8),
        stops=np.zeros((2, n)),
        by_white=lights.white,
        settled_at=LONG_AGO,
    )


def no_voices(n: int) -> Voices:
    """Return the voices of n lamps without effects."""
    return voices_of(
        kind=np.zeros((2, n), dtype=np.int8),
        rate=np.ones((2, n)),
        depth=np.zeros((2, n)),
        seed=np.zeros((2, n), dtype=np.int64),
        guarded=np.ones((2, n), dtype=np.bool_),
        since=np.zeros((2, n)),
        weight=np.zeros((2, n)),
        residue=np.zeros((3, n)),
    )


def voices_of(
    *,
    kind: NDArray[np.int8],
    rate: FloatArray,
    depth: FloatArray,
    seed: NDArray[np.int64],
    guarded: BoolArray,
    since: FloatArray,
    weight: FloatArray,
    residue: FloatArray,
) -> Voices:
    """Return the voices of these rows: those that come play, those that go as long as they have weight."""
    plays = kind > 0
    plays[OUTGOING] &= weight[OUTGOING] > 0.0
    live = np.flatnonzero(plays)
    silent = not live.size and not residue.any()
    return Voices(kind, rate, depth, seed, guarded, since, weight, residue, live, silent)
