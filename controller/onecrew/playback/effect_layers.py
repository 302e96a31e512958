"""Effect layers: of every lamp the effect that goes and the one that comes, and what both take away."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.playback.effects import EffectChange, Effects, effect_at
from onecrew.playback.fields import array
from onecrew.playback.lights import AnyArray

OUTGOING, INCOMING = range(2)
"""Rows of ``EffectLayers``."""


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


def taken_away(layers: EffectLayers, time: float, progress: FloatArray) -> EffectChange:
    """Return what all effects together do to each of n lamps at show ``time``, arrays (n,).

    ``progress`` (n,) 0–1 is how far the outgoing effects have given way to the incoming ones.
    """
    fading = 1.0 - progress
    total = layers.residue * fading
    if layers.live.size:
        n = progress.size
        lamp = layers.live % n
        comes = layers.live >= n
        start = layers.weight.ravel()[layers.live]
        along = progress[lamp]
        weight = start * (1.0 - along) + np.where(comes, along, 0.0)
        now = _effect_at(layers, layers.live, time)
        parts = weight * np.stack((now.dip, now.warm, now.green))
        split = int(np.searchsorted(layers.live, n))
        total[:, lamp[:split]] += parts[:, :split]
        total[:, lamp[split:]] += parts[:, split:]
    return EffectChange(np.minimum(total[0], 1.0), total[1], total[2])


def _effect_at(layers: EffectLayers, places: NDArray[np.int64], time: float) -> EffectChange:
    def of(field: AnyArray) -> AnyArray:
        return field.ravel()[places]

    elapsed = np.rint((time - of(layers.since)) * 2.0**20) * 2.0**-20
    effects = Effects(of(layers.kind), of(layers.rate), of(layers.depth), of(layers.seed))
    return effect_at(elapsed, effects, of(layers.guarded))


def retuned(
    layers: EffectLayers,
    effects: Effects,
    time: float,
    *,
    progress: FloatArray,
    touched: BoolArray,
    from_black: BoolArray,
    guarded: bool,
    afresh: bool = False,
) -> tuple[EffectLayers, BoolArray]:
    """Return the layers that lead from what plays at show ``time`` to ``effects``, and which lamps change.

    Only ``touched`` lamps (n,) are given new effects. A lamp that keeps its effect keeps its clock, but for
    ``afresh``; one that is ``from_black`` has its new effect at once. What can no longer be one of two layers
    stays as a residue that fades.
    """
    if layers.silent and not effects.kind.any():
        return layers, np.zeros_like(touched)
    coming, going = _row(layers, INCOMING), _row(layers, OUTGOING)
    weight_out = layers.weight[OUTGOING] * (1.0 - progress)
    weight_in = np.where(coming["kind"] > 0, layers.weight[INCOMING] * (1.0 - progress) + progress, 0.0)

    new = {key: getattr(effects, key) for key in _TOLD}
    new |= {"guarded": np.full(touched.shape, guarded), "since": np.full(touched.shape, time)}
    same = np.all([new[key] == coming[key] for key in (*_TOLD, "guarded")], axis=0)
    same = (effects.kind == coming["kind"]) & ((effects.kind == 0) | (same & (not afresh)))
    settled = (weight_out == 0.0) & ((weight_in == 1.0) | (coming["kind"] == 0)) & (progress >= 1.0)
    changing = touched & ~(same & settled)

    # Of the two that play, the stronger goes on as the outgoing one; the weaker becomes residue.
    switch = touched & ~same
    demote = switch & (weight_in > 0.0) & (weight_in >= weight_out)
    residue = layers.residue * (1.0 - progress)
    residue += np.where(demote, _alone(layers, OUTGOING, time, weight_out), 0.0)
    residue += np.where(switch & ~demote, _alone(layers, INCOMING, time, weight_in), 0.0)
    rows = {
        key: np.stack((np.where(demote, coming[key], going[key]), np.where(switch, new[key], coming[key])))
        for key in new
    }
    weight = np.stack((np.where(demote, weight_in, weight_out), np.where(switch, 0.0, weight_in)))
    black = touched & from_black
    weight[OUTGOING, black] = 0.0
    weight[INCOMING, black & (effects.kind > 0)] = 1.0
    residue[:, black] = 0.0

    # Lamps that do not change keep their fade of effects as it runs.
    weight = np.where(changing, weight, layers.weight)
    residue = np.where(changing, residue, layers.residue)
    return EffectLayers(**rows, weight=weight, residue=residue), changing


_TOLD = ("kind", "rate", "depth", "seed")
"""What an effect says of itself."""


def _row(layers: EffectLayers, row: int) -> dict[str, AnyArray]:
    return {key: getattr(layers, key)[row] for key in (*_TOLD, "guarded", "since")}


def _alone(layers: EffectLayers, row: int, time: float, weight: FloatArray) -> FloatArray:
    """What the layers of one row take away at ``time`` with these weights, (3, n)."""
    n = weight.size
    result = np.zeros((3, n))
    places = layers.live[layers.live // n == row] if n else layers.live
    if places.size:
        lamps = places - row * n
        now = _effect_at(layers, places, time)
        result[:, lamps] = weight[lamps] * np.stack((now.dip, now.warm, now.green))
    return result
