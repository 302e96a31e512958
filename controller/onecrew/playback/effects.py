"""Effects: television, flame, headlights, lightning, failing tube, as functions of time and seed alone.

An effect only takes light away: the look's level is the brightest the lamp gets, so that the exposure set on
the look holds. At depth d the light runs between (1 − d) and 1 times the look's output.

Flash guard. WCAG 2.3.1 counts a general flash as two opposing changes of luminance of 10 % or more and
allows three in any second. A guarded effect keeps under three by its making, at every rate and depth:

- All great changes begin on a common beat of ``BEAT_S`` = 0.5 s and move one way within a beat; a second
  touches three beats, so it holds at most three changes, one flash and a half. Lightning strikes on every
  other beat at most, up and down in one; headlights swell and go within less than half of their period of
  2.25 s or more: again three changes in a second, four where two cars meet.
- Whatever flickers faster stays within ``RIPPLE`` = 6 % of the light of the moment, too little to count, and
  too little to turn a smaller change into one that counts more often than the beat allows.
- Both are ratios of the light of the moment, so they hold at any level, exposure or dimming law.
- The colour follows the great changes, never the ripple.

Without the guard the same effects run on a shorter beat, with more ripple.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import BoolArray, FloatArray, IntArray
from onecrew.show.light import Effect, Light

KINDS = {"television": 1, "flame": 2, "headlights": 3, "lightning": 4, "failing-tube": 5}
"""Codes of the kinds; 0 is no effect."""
BEAT_S = 0.5
RIPPLE = 0.06
"""Greatest flicker between beats, as a share of the light of the moment."""
FREE_RIPPLE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """One effect a lamp, arrays (n,); ``kind`` 0 is none."""

    kind: NDArray[np.int8]
    rate: FloatArray
    depth: FloatArray
    seed: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class EffectChange:
    """What effects do to their lamps at one moment, arrays of shape (k,).

    ``dip`` is the share of light taken away, 0–1; ``warm`` is added to the mired, ``green`` to the Duv.
    """

    dip: FloatArray
    warm: FloatArray
    green: FloatArray


def effects_of(lights: Sequence[Light]) -> Effects:
    """Return the effects of documents' lights as arrays."""
    rows = [_NONE if light.effect is None else _numbers(light.effect) for light in lights]
    kind, rate, depth, seed = zip(*rows, strict=True) if rows else ((), (), (), ())
    return Effects(
        np.array(kind, dtype=np.int8),
        np.array(rate, dtype=np.float64),
        np.array(depth, dtype=np.float64),
        np.array(seed, dtype=np.int64),
    )


_NONE = (0, 1.0, 0.0, 0)


def _numbers(effect: Effect) -> tuple[int, float, float, int]:
    return KINDS[effect.kind], effect.rate, effect.depth, effect.seed


def effect_at(time_s: FloatArray, effects: Effects, guarded: BoolArray) -> EffectChange:
    """Return what k effects (none of kind 0) do ``time_s`` (k,) seconds after their start.

    ``guarded`` (k,) tells which keep under three flashes in any second.
    """
    dip, warm, green = np.zeros_like(time_s), np.zeros_like(time_s), np.zeros_like(time_s)
    for code in set(effects.kind.tolist()):
        where = np.flatnonzero(effects.kind == code)
        held = guarded[where]
        shape = _SHAPES[code](time_s[where], effects.rate[where], effects.seed[where], held)
        deep = effects.depth[where]
        light = 1.0 - deep * shape.dip
        if shape.ripple is not None:
            light *= 1.0 - np.where(held, RIPPLE, FREE_RIPPLE) * deep * shape.ripple
        dip[where] = 1.0 - light
        warm[where] = deep * shape.warm
        green[where] = deep * shape.green
    return EffectChange(dip, warm, green)


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """A kind's own part: slow dip 0–1, ripple 0–1 if any, and colour shifts at full depth."""

    dip: FloatArray
    ripple: FloatArray | None
    warm: FloatArray
    green: FloatArray | float = 0.0


def _television(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Cuts to another picture every two seconds or so, each with its own brightness and colour."""
    scene, since = _scene(time_s, rate, seed, np.where(guarded, BEAT_S, 0.125), usual_s=2.0)
    step, part = _split(time_s * 5.0 * rate)
    last = scene - 1
    drawn = hash01(seed, (last, last, last, step, scene, scene, scene, step + 1), (1, 2, 3, 4, 1, 2, 3, 4))
    turn = ease(np.clip(since / 0.08, 0.0, 1.0))
    picture = drawn[:3] + (drawn[4:7] - drawn[:3]) * turn
    ripple = drawn[3] + (drawn[7] - drawn[3]) * part
    return _Shape(picture[0], ripple, warm=90.0 * (picture[1] - 0.6), green=0.006 * (picture[2] - 0.5))


def _flame(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Sways from beat to beat, mostly near full, and flickers lightly; warmer as it sinks."""
    beat, along = _split(time_s / np.where(guarded, BEAT_S * np.maximum(1.0, 1.0 / rate), 0.25 / rate))
    step, part = _split(time_s * np.minimum(7.0 * rate, 18.0))
    before, flicker, after, next_flicker = hash01(seed, (beat, step, beat + 1, step + 1), (1, 2, 1, 2))
    before, after = before * before, after * after
    low = before + (after - before) * along
    return _Shape(low, flicker + (next_flicker - flicker) * part, warm=45.0 * low)


def _headlights(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Dark until a car comes: light swells as it nears, and is gone sooner than it came."""
    del guarded  # slow enough at every rate
    period_s = 9.0 / rate
    whole = np.floor(time_s / period_s)
    car = whole.astype(np.int64)
    when, strength = hash01(seed, (car, car), (1, 2))
    swell_s = 0.35 * period_s
    at = (time_s - whole * period_s - when * (period_s - swell_s)) / swell_s
    near = ease(np.clip(at / 0.65, 0.0, 1.0))
    gone = ease(np.clip((at - 0.7) / 0.3, 0.0, 1.0))
    bright = near * near * (1.0 - gone) * (0.5 + 0.5 * strength)
    return _Shape(1.0 - bright, None, warm=-12.0 * bright)


def _lightning(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Dark but for strikes, some seconds apart: up within a frame, down within half a second, cooler."""
    strike, since = _scene(time_s, rate, seed, np.where(guarded, 2.0 * BEAT_S, BEAT_S), usual_s=6.0)
    step, part = _split(time_s * 22.0)
    strength, before, after = hash01(seed, (strike, step, step + 1), (1, 2, 2))
    rise = np.clip(since / 0.03, 0.0, 1.0)
    fall = 1.0 - np.clip((since - 0.03) / 0.4, 0.0, 1.0)
    bright = rise * fall * fall * (0.4 + 0.6 * strength)
    stutter = 1.0 - 0.7 * (before + (after - before) * part)
    bright = np.where(guarded, bright, bright * stutter)
    return _Shape(1.0 - bright, None, warm=-30.0 * bright)


def _failing_tube(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Steady for a while, then drops out and comes back, greener as it sinks."""
    beat_s = np.where(guarded, BEAT_S, 0.09)
    beat = np.floor(time_s / beat_s).astype(np.int64)
    step, part = _split(time_s * 12.0)
    steps: list[IntArray] = []
    for at in (beat - 1, beat):
        steps += [np.floor(at * beat_s / 4.0).astype(np.int64), at, at]
    drawn = hash01(seed, (*steps, step, step + 1), (1, 2, 3, 1, 2, 3, 4, 4))
    restless, drops = np.clip(0.5 * rate, 0.1, 0.95), np.clip(0.45 * rate, 0.1, 0.6)
    before, after = (
        np.where((spell < restless) & (drop < drops), 0.4 + 0.6 * depth, 0.0)
        for spell, drop, depth in (drawn[:3], drawn[3:6])
    )
    low = before + (after - before) * ease(np.clip((time_s - beat * beat_s) / 0.06, 0.0, 1.0))
    ripple = drawn[6] + (drawn[7] - drawn[6]) * part
    return _Shape(low, ripple, warm=10.0 * low, green=0.004 * low)


_SHAPES: dict[int, Callable[[FloatArray, FloatArray, IntArray, BoolArray], _Shape]] = {
    KINDS["television"]: _television,
    KINDS["flame"]: _flame,
    KINDS["headlights"]: _headlights,
    KINDS["lightning"]: _lightning,
    KINDS["failing-tube"]: _failing_tube,
}


def _split(at: FloatArray) -> tuple[IntArray, FloatArray]:
    """Whole steps, and the way 0–1 from each to the next, at rest at both ends."""
    whole = np.floor(at)
    return whole.astype(np.int64), ease(at - whole)


def _scene(
    time_s: FloatArray, rate: FloatArray, seed: IntArray, beat_s: FloatArray, usual_s: float
) -> tuple[IntArray, FloatArray]:
    """Return which scene runs and for how long (s), where scenes change on beats, irregularly.

    Time is cut into stretches of a whole number of beats, ``usual_s`` / rate long on average; each scene
    begins on one random beat of its stretch. Two changes are at least a beat apart.
    """
    beats = np.maximum(1, np.rint(usual_s / (rate * beat_s))).astype(np.int64)
    beat = np.floor(time_s / beat_s).astype(np.int64)
    stretch = beat // beats
    offsets = (hash01(seed, (stretch - 1, stretch), (0, 0)) * beats).astype(np.int64)
    first = stretch * beats + offsets[1]
    begun = beat >= first
    began = np.where(begun, first, first - offsets[1] - beats + offsets[0])
    return np.where(begun, stretch, stretch - 1), time_s - began * beat_s


def ease(progress: FloatArray) -> FloatArray:
    """Return 3p² − 2p³ for progress 0–1: starts and ends at rest."""
    return progress * progress * (3.0 - 2.0 * progress)


_SEED = np.uint64(0x9E3779B97F4A7C15)
_STEP = np.uint64(0xD1B54A32D192ED03)
_STREAM = np.uint64(0x8CB92BA72F3D8DD7)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)
_30, _27, _31, _11 = (np.uint64(bits) for bits in (30, 27, 31, 11))


def hash01(seed: IntArray, steps: Sequence[IntArray], streams: Sequence[int]) -> FloatArray:
    """Return numbers in [0, 1), shape (m, k), for m pairs of ``steps`` (k,) and streams, and k seeds.

    They look random and depend on nothing but the arguments, alike on every machine: whole-number arithmetic
    modulo 2⁶⁴ with the mixing steps of the public-domain SplitMix64 generator (G. L. Steele, D. Lea,
    C. H. Flood: Fast splittable pseudorandom number generators, OOPSLA 2014).

    >>> hash01(np.array([1]), [np.array([0])], (0,)).round(6).ravel().tolist()
    [0.883311]
    """
    stream = np.array(streams, dtype=np.uint64)[:, None] * _STREAM
    mixed = np.array(steps).astype(np.uint64) * _STEP + (seed.astype(np.uint64) * _SEED + stream)
    mixed = (mixed ^ (mixed >> _30)) * _FIRST
    mixed = (mixed ^ (mixed >> _27)) * _SECOND
    mixed ^= mixed >> _31
    share: FloatArray = (mixed >> _11).astype(np.float64) * 2.0**-53
    return share
