"""Voices: effects coming, staying and going as lamps move from one light to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.documents.light import Effect, Light
from controller.playback.effects import KINDS, Sway, sway
from controller.playback.frame import AnyArray, BoolArray, FloatArray
from controller.playback.state import INCOMING, OUTGOING, Voices


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """One effect a lamp, arrays (n,); ``kind`` 0 is none."""

    kind: NDArray[np.int8]
    rate: FloatArray
    depth: FloatArray
    seed: NDArray[np.int64]


_NONE = (0, 1.0, 0.0, 0)


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


def _numbers(effect: Effect) -> tuple[int, float, float, int]:
    return KINDS[effect.kind], effect.rate, effect.depth, effect.seed


def taken_away(voices: Voices, time: float, progress: FloatArray) -> Sway:
    """Return what all effects together do to each of n lamps at show ``time``, arrays (n,).

    ``progress`` (n,) 0–1 is how far the outgoing effects have given way to the incoming ones.
    """
    fading = 1.0 - progress
    total = voices.residue * fading
    if voices.live.size:
        n = progress.size
        lamp = voices.live % n
        comes = voices.live >= n
        start = voices.weight.ravel()[voices.live]
        along = progress[lamp]
        weight = start * (1.0 - along) + np.where(comes, along, 0.0)
        now = _sway_of(voices, voices.live, time)
        parts = weight * np.stack((now.dip, now.warm, now.green))
        split = int(np.searchsorted(voices.live, n))
        total[:, lamp[:split]] += parts[:, :split]
        total[:, lamp[split:]] += parts[:, split:]
    return Sway(np.minimum(total[0], 1.0), total[1], total[2])


def _sway_of(voices: Voices, places: NDArray[np.int64], time: float) -> Sway:
    def of(field: AnyArray) -> AnyArray:
        return field.ravel()[places]

    elapsed = np.rint((time - of(voices.since)) * 2.0**20) * 2.0**-20
    return sway(
        of(voices.kind), elapsed, of(voices.rate), of(voices.depth), of(voices.seed), of(voices.guarded)
    )


def retuned(
    voices: Voices,
    effects: Effects,
    time: float,
    *,
    progress: FloatArray,
    touched: BoolArray,
    from_black: BoolArray,
    guarded: bool,
    afresh: bool,
) -> tuple[Voices, BoolArray]:
    """Return the voices that lead from what plays at show ``time`` to ``effects``, and which lamps change.

    Only ``touched`` lamps (n,) are given new effects. A lamp that keeps its effect keeps its clock, unless
    ``afresh``; one that is ``from_black`` has its new effect at once. What can no longer be one of two
    voices stays as a residue that fades.
    """
    old_in, old_out = _row(voices, INCOMING), _row(voices, OUTGOING)
    weight_out = voices.weight[OUTGOING] * (1.0 - progress)
    weight_in = np.where(old_in["kind"] > 0, voices.weight[INCOMING] * (1.0 - progress) + progress, 0.0)

    new: dict[str, AnyArray] = {
        "kind": effects.kind,
        "rate": effects.rate,
        "depth": effects.depth,
        "seed": effects.seed,
        "guarded": np.full(touched.shape, guarded),
        "since": np.full(touched.shape, time),
    }
    same = np.all([new[key] == old_in[key] for key in ("kind", "rate", "depth", "seed")], axis=0)
    same &= (new["guarded"] == old_in["guarded"]) | (effects.kind == 0)
    if afresh:
        same &= effects.kind == 0
    switch = touched & ~same
    settled = (weight_out == 0.0) & ((weight_in == 1.0) | (old_in["kind"] == 0)) & (progress >= 1.0)
    changing = touched & (switch | ~settled)

    # The one that was coming now goes; where nothing was coming, the one that went still goes.
    demote = switch & (old_in["kind"] > 0)
    drop = demote & (weight_out > 0.0)
    residue = voices.residue * (1.0 - progress)
    if drop.any():
        residue[:, drop] += _alone(voices, time, weight_out)[:, drop]
    rows = {
        key: np.stack((np.where(demote, old_in[key], old_out[key]), np.where(switch, new[key], old_in[key])))
        for key in new
    }
    weight = np.stack((np.where(demote, weight_in, weight_out), np.where(switch, 0.0, weight_in)))
    black = touched & from_black
    weight[OUTGOING, black] = 0.0
    weight[INCOMING, black & (effects.kind > 0)] = 1.0
    residue[:, black] = 0.0

    # Lamps that do not change keep their fade of effects as it runs.
    keep = ~changing
    weight = np.where(keep, voices.weight, weight)
    residue = np.where(keep, voices.residue, residue)
    plays = rows["kind"] > 0
    plays[OUTGOING] &= weight[OUTGOING] > 0.0
    return Voices(**rows, weight=weight, residue=residue, live=np.flatnonzero(plays)), changing


def _row(voices: Voices, row: int) -> dict[str, AnyArray]:
    return {key: getattr(voices, key)[row] for key in ("kind", "rate", "depth", "seed", "guarded", "since")}


def _alone(voices: Voices, time: float, weight: FloatArray) -> FloatArray:
    """What the outgoing voices take away at ``time``, (3, n)."""
    n = weight.size
    places = voices.live[voices.live < n]
    result = np.zeros((3, n))
    now = _sway_of(voices, places, time)
    result[:, places] = weight[places] * np.stack((now.dip, now.warm, now.green))
    return result
