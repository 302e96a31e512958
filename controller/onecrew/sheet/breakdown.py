"""Breakdown: cues that show how a look was made — built up from black lamp by lamp, then each lamp away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from onecrew.errors import Refused
from onecrew.language import saying
from onecrew.log.cut import Clip, Event
from onecrew.show.faults import meant
from onecrew.show.light import Look
from onecrew.show.numbers import free_run
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Cue, Fade, Role, Show

ORDER: tuple[Role, ...] = ("ambience", "key", "fill", "practical", "edge", "background", "effect")
"""How a look is mostly built: the darkness of the room first, then the light that tells, then the rest."""


LEAST_STEP_S = 1.0
"""Shortest step of a film; own choice: less than that is not seen for what it is."""


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


def scene_name(show: Show, cue: Cue) -> str:
    """A name for the scene of a cue's chains that no scene of the show has."""
    taken = {scene.name.lower() for scene in scenes_of(show)}
    names = (f"Breakdown {cue.number}{more}" for more in ("", *(f" ({n})" for n in range(2, 1000))))
    return next(name for name in names if name.lower() not in taken)


def pace_of(length_s: float, cue: Cue, lamps: int) -> Pace:
    """The pace at which black and ``lamps`` lamps take as long as a take of ``length_s``, in seconds.

    Both then lie over one another in the edit. A step fades as the cue does, but for half of it at most.
    ``Refused`` where there is less than a second for each step.
    """
    step_s = round(length_s / (1 + lamps), 2)
    if step_s < LEAST_STEP_S:
        raise Refused(
            f"The take is too short for black and {lamps} lamps: {saying.seconds(length_s)} in all. "
            f"Choose a longer one, or say --fade and --stand."
        )
    fade_s = min(max(cue.fade.in_s, cue.fade.out_s), step_s / 2.0)
    return Pace(round(fade_s, 2), round(step_s - fade_s, 2))


def clip_of_chain(chain: Sequence[Cue], pace: Pace) -> Clip:
    """What a chain does, on the time of its film: 0 is the start of its take."""
    shown: Look = {}
    events = []
    for place, one in enumerate(chain):
        new = [f"{lamp} {saying.said(light)}" for lamp, light in one.look.items() if lamp not in shown]
        away = [f"without {lamp}" for lamp in shown if lamp not in one.look]
        text = ", ".join(away or (new if place and len(new) == 1 else [])) or ("all" if one.look else "black")
        events.append(Event(place * pace.step_s, "cue", text, fade_s=pace.fade_s))
        shown = one.look
    return Clip(chain[0].name, "AX", 0.0, len(chain) * pace.step_s, tuple(events))


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
    behind = show.model_copy(update={"cues": (*show.cues, *(Cue(number=number) for number in numbers))})
    after = None if start is None else int(numbers[-1]) + 1
    return Breakdown(
        build=tuple(_build(cue, lamps, numbers, pace)),
        away=tuple(_away(cue, lamps, free_run(behind, 1 + 2 * len(lamps), after), pace)),
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
