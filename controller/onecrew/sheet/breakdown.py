"""Breakdown: cues that show how a look was made — built up from black lamp by lamp, then each lamp away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from onecrew.errors import Refused
from onecrew.show.faults import meant
from onecrew.show.light import Look
from onecrew.show.numbers import free_run
from onecrew.show.show import Cue, Fade, Role, Show

ORDER: tuple[Role, ...] = ("ambience", "key", "fill", "practical", "edge", "background", "effect")
"""How a look is mostly built: the darkness of the room first, then the light that tells, then the rest."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Times of a chain: how long a step fades, and how long it then stands."""

    fade_s: float = 1.5
    stand_s: float = 3.0

    @property
    def step_s(self) -> float:
        return self.fade_s + self.stand_s


@dataclass(frozen=True, slots=True)
class Breakdown:
    """The two chains, each of which runs by itself from its first cue on."""

    build: tuple[Cue, ...]
    away: tuple[Cue, ...]

    @property
    def cues(self) -> tuple[Cue, ...]:
        return (*self.build, *self.away)


def lamps_in_order(show: Show, cue: Cue, order: Sequence[str]) -> list[str]:
    """The lamps that a cue lights: those named (by id or role) in that order, the rest as ``ORDER`` has it.

    ``Refused`` for a cue without light, and for a word that is neither a lamp of the rig nor a role.
    """
    ids = [fixture.id for fixture in show.rig.fixtures]
    for word in order:
        if word not in ids and word not in ORDER:
            close = meant(word, [*ids, *ORDER])
            raise Refused(
                f"'{word}' is neither a lamp nor a role"
                + (f"; perhaps {close} was meant" if close else f"; roles are {', '.join(ORDER)}")
            )
    lit = [f for f in show.rig.fixtures if f.id in cue.look and cue.look[f.id].level > 0.0]
    if not lit:
        raise Refused(
            f"cue {cue.number} {cue.name}".rstrip() + " lights no lamp, so there is nothing to build"
        )
    rank = {word: place for place, word in enumerate([*order, *(r for r in ORDER if r not in order)])}
    return [f.id for f in sorted(lit, key=lambda f: rank.get(f.id, rank[f.role]))]


def breakdown(
    show: Show, cue: Cue, order: Sequence[str] = (), pace: Pace | None = None, start: int | None = None
) -> Breakdown:
    """The chains for a cue. ``Refused`` as ``lamps_in_order`` and ``free_run`` are."""
    pace = pace or Pace()
    lamps = lamps_in_order(show, cue, order)
    numbers = free_run(show, 1 + len(lamps), start)
    behind = _behind(show, numbers)
    return Breakdown(
        build=tuple(_build(cue, lamps, numbers, pace)),
        away=tuple(_away(cue, lamps, free_run(behind, 1 + 2 * len(lamps), _after(numbers, start)), pace)),
    )


def _build(cue: Cue, lamps: Sequence[str], numbers: Sequence[str], pace: Pace) -> list[Cue]:
    """Black, then one lamp more in every cue."""
    look: Look = {}
    chain = [_cue(numbers[0], f"Build {cue.number}: black", look, cue, pace, last=False)]
    for number, lamp in zip(numbers[1:], lamps, strict=True):
        look = {**look, lamp: cue.look[lamp]}
        last = number == numbers[-1]
        chain.append(_cue(number, f"Build {cue.number}: + {lamp}", look, cue, pace, last=last))
    return chain


def _away(cue: Cue, lamps: Sequence[str], numbers: Sequence[str], pace: Pace) -> list[Cue]:
    """The whole look, then each lamp away from it, with the whole look in between."""
    whole = {lamp: cue.look[lamp] for lamp in lamps}
    chain = [_cue(numbers[0], f"Away {cue.number}: all", whole, cue, pace, last=False)]
    for place, lamp in enumerate(lamps):
        without = {name: light for name, light in whole.items() if name != lamp}
        gone, back = numbers[1 + 2 * place], numbers[2 + 2 * place]
        chain.append(_cue(gone, f"Away {cue.number}: − {lamp}", without, cue, pace, last=False))
        chain.append(_cue(back, f"Away {cue.number}: all", whole, cue, pace, last=back == numbers[-1]))
    return chain


def _cue(number: str, name: str, look: Look, of: Cue, pace: Pace, *, last: bool) -> Cue:
    return Cue(
        number=number,
        name=name,
        fade=Fade(in_s=pace.fade_s, out_s=pace.fade_s, curve=of.fade.curve),
        auto_follow_s=None if last else pace.step_s,
        flash_guard=of.flash_guard,
        look=look,
    )


def _behind(show: Show, numbers: Sequence[str]) -> Show:
    """The show with these numbers taken."""
    return show.model_copy(update={"cues": (*show.cues, *(Cue(number=number) for number in numbers))})


def _after(numbers: Sequence[str], start: int | None) -> int | None:
    return None if start is None else int(numbers[-1]) + 1
