"""Levelling: a card as bright under one lamp as under the other, so that an unknown curve bends both alike.

Two whites of one colour and light come out alike whatever a camera's look does to them; of different light
they do not. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from onecrew.stills.shotlist import Shot

_SAME = 1.1
"""Lights this alike need no still once more (own choice)."""
_LEAST_SHARE = 0.125
"""How far a lamp is lowered at most: beyond three stops noise costs more than the curve (own choice)."""


@dataclass(frozen=True, slots=True)
class Levels:
    """What is known of the light of a card."""

    lit: Mapping[str, float] = field(default_factory=dict)
    """By lamp: light at full output, for each unit that its profile promises."""

    def after(
        self, shots: Sequence[Shot], at: int, light: float
    ) -> tuple[Levels, tuple[Shot, ...], tuple[Shot, ...]]:
        """Return what is known after the still ``at`` had this light, the stills with the outputs that
        follow, and what to take once more: the first still of the brighter lamp.
        """
        shot = shots[at]
        if shot.lamp is None or light <= 0.0:
            return self, tuple(shots), ()
        known = Levels({**self.lit, shot.lamp: light / (shot.output * shot.promised)})
        again: tuple[Shot, ...] = ()
        if len(self.lit) == 1 and len(known.lit) == 2:
            first = [next(one for one in shots if one.lamp == name) for name in known.lit]
            lights = [known.lit[one.lamp or ""] * one.output * one.promised for one in first]
            if max(lights) > _SAME * min(lights):
                brighter = first[lights.index(max(lights))]
                again = (_at_light(brighter, min(lights), max(lights) / brighter.output),)
        return known, known.levelled(shots, at + 1), again

    def levelled(self, shots: Sequence[Shot], start: int = 0) -> tuple[Shot, ...]:
        """Return the stills, from ``start`` on with both lamps of a white as bright as the weaker one is
        there, or was in a still before that had to be taken with less light."""
        if len(self.lit) < 2:
            return tuple(shots)
        full = [self.lit.get(shot.lamp or "", 0.0) * shot.promised for shot in shots]
        weakest: dict[tuple[float | None, float], float] = {}
        for n, shot in enumerate(shots):
            if full[n] > 0.0:
                most = full[n] * (shot.output if n < start else 1.0)
                weakest[_white(shot)] = min(weakest.get(_white(shot), most), most)
        rest = [
            _at_light(shots[n], weakest[_white(shots[n])], full[n]) if full[n] > 0.0 else shots[n]
            for n in range(start, len(shots))
        ]
        return (*shots[:start], *rest)


def _white(shot: Shot) -> tuple[float | None, float]:
    return shot.cct_k, shot.duv


def _at_light(shot: Shot, light: float, full: float) -> Shot:
    return replace(shot, file="", output=min(max(light / full, _LEAST_SHARE), 1.0))
