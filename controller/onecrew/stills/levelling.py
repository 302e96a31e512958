"""Levelling: a card as bright under one lamp as under the other, so that an unknown curve bends both alike.

Two whites of one colour and light come out alike whatever a camera's look does to them; of different light
they do not. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

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
    aim: float | None = None
    """The light that all are to have; None until two lamps were seen."""

    def after(
        self, shots: Sequence[Shot], at: int, light: float
    ) -> tuple[Levels, tuple[Shot, ...], tuple[Shot, ...]]:
        """Return what is known after the still ``at`` had this light, the stills with the outputs that
        follow, and what to take once more: the first still of the brighter lamp.
        """
        shot = shots[at]
        if shot.lamp is None or light <= 0.0:
            return self, tuple(shots), ()
        known = replace(self, lit={**self.lit, shot.lamp: light / (shot.output * shot.promised)})
        if self.aim is not None or len(known.lit) < 2:
            return known, known._lowered(shots, at), ()
        first = [next(one for one in shots if one.lamp == name) for name in known.lit]
        lights = [known.lit[one.lamp or ""] * one.output * one.promised for one in first]
        known = replace(known, aim=min(lights))
        again = replace(first[int(np.argmax(lights))], file="")
        uneven = max(lights) > _SAME * min(lights)
        return known, known._lowered(shots, at), (known.levelled(again),) if uneven else ()

    def levelled(self, shot: Shot) -> Shot:
        """Return a still at the output that gives the light aimed at, as far as the lamp has it."""
        lit = self.lit.get(shot.lamp or "")
        if self.aim is None or lit is None:
            return shot
        share = self.aim / (lit * shot.promised)
        return replace(shot, output=min(max(share, _LEAST_SHARE), 1.0))

    def _lowered(self, shots: Sequence[Shot], at: int) -> tuple[Shot, ...]:
        """The stills with those to come lowered: both lamps of a white as bright as the weaker one is there,
        or was in a still that had to be taken with less light."""
        if self.aim is None:
            return tuple(shots)
        aims: dict[tuple[float | None, float], float] = {}
        for n, shot in enumerate(shots):
            if shot.lamp is not None and shot.lamp in self.lit:
                most = self.lit[shot.lamp] * shot.promised * (shot.output if n <= at else 1.0)
                aims[shot.cct_k, shot.duv] = min(aims.get((shot.cct_k, shot.duv), self.aim), most)
        rest = [
            replace(self, aim=aims.get((shot.cct_k, shot.duv))).levelled(shot) for shot in shots[at + 1 :]
        ]
        return (*shots[: at + 1], *rest)
