"""Effects: television, flame, headlights, lightning, failing tube, as functions of time and seed alone.

An effect only takes light away: the look's level is the brightest the lamp gets, so that the exposure set on
the look holds. At depth d the light runs between (1 − d) and 1 times the look's output.

Flash guard. WCAG 2.3.1 counts a general flash as two opposing changes of luminance of 10 % or more and
allows three in any second. A guarded effect keeps under three by its making, at every rate and depth:

- All great changes begin on a common beat of ``BEAT_S`` = 0.5 s and move one way within a beat; a second
  touches three beats, so it holds at most three changes, one flash and a half. Lightning rises and falls
  within a beat: five changes at most, two flashes and a half.
- Whatever flickers faster stays within ``RIPPLE`` = 6 % of the light of the moment, too little to count, and
  too little to turn a smaller change into one that counts more often than the beat allows.
- Both are ratios of the light of the moment, so they hold at any level, exposure or dimming law.
- The colour follows the great changes, never the ripple.

Without the guard the same effects run on a shorter beat, with more ripple.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.playback.curves import ease
from controller.playback.frame import BoolArray, FloatArray
from controller.playback.noise import hash01, smooth_noise

IntArray = NDArray[np.int64]

KINDS = {"television": 1, "flame": 2, "headlights": 3, "lightning": 4, "failing-tube": 5}
"""Codes of the kinds; 0 is no effect."""
BEAT_S = 0.5
RIPPLE = 0.06
"""Greatest flicker between beats, as a share of the light of the moment."""
FREE_RIPPLE = 0.25


@dataclass(frozen=True, slots=True)
class Sway:
    """What effects do to their lamps at one moment, arrays of shape (k,).

    ``dip`` is the share of light taken away, 0–1; ``warm`` is added to the mired, ``green`` to the Duv.
    """

    dip: FloatArray
    warm: FloatArray
    green: FloatArray


@dataclass(frozen=True, slots=True)
class _Shape:
    """A kind's own part: slow dip 0–1, ripple 0–1, and colour shifts at full depth."""

    dip: FloatArray
    ripple: FloatArray
    warm: FloatArray
    green: FloatArray


def sway(
    kind: NDArray[np.int8],
    time_s: FloatArray,
    rate: FloatArray,
    depth: FloatArray,
    seed: IntArray,
    guarded: BoolArray,
) -> Sway:
    """Return what k effects do ``time_s`` seconds after their start.

    All arguments are arrays (k,): ``kind`` by ``KINDS`` (not 0), ``rate`` > 0 up to 4, ``depth`` 0–1.
    """
    dip, warm, green = np.zeros_like(time_s), np.zeros_like(time_s), np.zeros_like(time_s)
    for code, shape_of in _SHAPES.items():
        where = np.flatnonzero(kind == code)
        if not where.size:
            continue
        held = guarded[where]
        shape = shape_of(time_s[where], rate[where], seed[where], held)
        deep = depth[where]
        ripple = np.where(held, RIPPLE, FREE_RIPPLE) * deep * shape.ripple
        dip[where] = 1.0 - (1.0 - deep * shape.dip) * (1.0 - ripple)
        warm[where] = deep * shape.warm
        green[where] = deep * shape.green
    return Sway(dip, warm, green)


def _television(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Cuts to another picture every two seconds or so, each with its own brightness and colour."""
    beat_s = np.where(guarded, BEAT_S, 0.125)
    scene, since = _scene(time_s, rate, seed, beat_s, usual_s=2.0)
    turn = ease(np.clip(since / 0.08, 0.0, 1.0))

    def between(stream: int) -> FloatArray:
        before = hash01(seed, scene - 1, stream)
        return before + (hash01(seed, scene, stream) - before) * turn

    return _Shape(
        dip=between(1),
        ripple=smooth_noise(seed, time_s * 5.0 * rate, 2),
        warm=90.0 * (between(3) - 0.6),
        green=0.006 * (between(4) - 0.5),
    )


def _flame(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Sways from beat to beat, mostly near full, and flickers lightly; warmer as it sinks."""
    beat_s = np.where(guarded, BEAT_S * np.maximum(1.0, 1.0 / rate), 0.25 / rate)
    at = time_s / beat_s
    low = _squared_noise(seed, at)
    ripple = smooth_noise(seed, time_s * np.minimum(7.0 * rate, 18.0), 2)
    return _Shape(dip=low, ripple=ripple, warm=45.0 * low, green=np.zeros_like(low))


def _headlights(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Dark until a car comes: light swells as it nears, and is gone sooner than it came."""
    period_s = np.maximum(9.0 / rate, np.where(guarded, 2.0, 0.6))
    whole = np.floor(time_s / period_s)
    car = whole.astype(np.int64)
    swell_s = np.minimum(0.45 * period_s, 3.0)
    start_s = hash01(seed, car, 1) * (period_s - swell_s)
    at = (time_s - whole * period_s - start_s) / swell_s
    near = ease(np.clip(at / 0.65, 0.0, 1.0))
    bright = near * near * (1.0 - ease(np.clip((at - 0.7) / 0.3, 0.0, 1.0)))
    bright *= 0.5 + 0.5 * hash01(seed, car, 2)
    zero = np.zeros_like(bright)
    return _Shape(dip=1.0 - bright, ripple=zero, warm=-12.0 * bright, green=zero)


def _lightning(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Dark but for strikes, some seconds apart: up within a frame, down within half a second, colder."""
    beat_s = np.full_like(time_s, BEAT_S)
    strike, since = _scene(time_s, rate, seed, beat_s, usual_s=6.0)
    rise = np.clip(since / 0.03, 0.0, 1.0)
    fall = np.clip((since - 0.03) / 0.4, 0.0, 1.0)
    bright = rise * (1.0 - fall) ** 2 * (0.4 + 0.6 * hash01(seed, strike, 1))
    stutter = 1.0 - 0.7 * smooth_noise(seed, time_s * 22.0, 2)
    bright = np.where(guarded, bright, bright * stutter)
    zero = np.zeros_like(bright)
    return _Shape(dip=1.0 - bright, ripple=zero, warm=-30.0 * bright, green=zero)


def _failing_tube(time_s: FloatArray, rate: FloatArray, seed: IntArray, guarded: BoolArray) -> _Shape:
    """Steady for a while, then drops out and comes back, greener as it sinks."""
    beat_s = np.where(guarded, BEAT_S, 0.09)
    beat = np.floor(time_s / beat_s).astype(np.int64)
    since = time_s - beat * beat_s

    def dark(at: IntArray) -> FloatArray:
        spell = np.floor(at * beat_s / 4.0).astype(np.int64)
        restless = hash01(seed, spell, 1) < np.clip(0.5 * rate, 0.1, 0.95)
        out = restless & (hash01(seed, at, 2) < np.clip(0.45 * rate, 0.1, 0.6))
        return np.where(out, 0.4 + 0.6 * hash01(seed, at, 3), 0.0)

    before = dark(beat - 1)
    low = before + (dark(beat) - before) * ease(np.clip(since / 0.06, 0.0, 1.0))
    return _Shape(dip=low, ripple=smooth_noise(seed, time_s * 12.0, 4), warm=10.0 * low, green=0.004 * low)


_SHAPES: dict[int, Callable[[FloatArray, FloatArray, IntArray, BoolArray], _Shape]] = {
    KINDS["television"]: _television,
    KINDS["flame"]: _flame,
    KINDS["headlights"]: _headlights,
    KINDS["lightning"]: _lightning,
    KINDS["failing-tube"]: _failing_tube,
}


def _squared_noise(seed: IntArray, at: FloatArray) -> FloatArray:
    """Noise in [0, 1) between squared random values: one-way from beat to beat, mostly low."""
    whole = np.floor(at)
    step = whole.astype(np.int64)
    before, after = hash01(seed, step, 1) ** 2, hash01(seed, step + 1, 1) ** 2
    return before + (after - before) * ease(at - whole)


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
    first = stretch * beats + (hash01(seed, stretch, 0) * beats).astype(np.int64)
    scene = np.where(beat >= first, stretch, stretch - 1)
    began = scene * beats + (hash01(seed, scene, 0) * beats).astype(np.int64)
    return scene, time_s - began * beat_s
