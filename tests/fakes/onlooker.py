"""A person who looks at a lamp of the virtual room while its slots are raised, and says what it does."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.describe import of_kind
from onecrew.fixtures.probe import Layout, Question, asked_so_far
from onecrew.fixtures.probe_answers import STEPS, WHITES, Answer
from onecrew.show.profile import Profile

UNSEEN = 1e-6
"""Share of a lamp's light that nobody sees, even in the dark."""
FAINT = 0.02
ALIKE_UV, ALIKE_LIGHT = 0.006, 0.05
"""What nobody notices in one lamp from one second to the next; common practice, no source."""
NAMED = {
    Answer.RED: (0.53, 0.52),
    Answer.AMBER: (0.36, 0.55),
    Answer.LIME: (0.20, 0.57),
    Answer.GREEN: (0.07, 0.57),
    Answer.CYAN: (0.05, 0.50),
    Answer.BLUE: (0.20, 0.11),
}
"""CIE 1976 u′v′ of what people call so; own arithmetic from the shipped emitters."""


class Onlooker:
    """Answers the questions of a probe about a lamp of one profile and mode.

    ``strobes`` names its slots that make it flash from 10 up, ``modes`` those that let light through only
    from one value to another, ``programs`` those that make it run through colours by itself from 10 up.
    """

    def __init__(
        self,
        profile: Profile,
        mode: str,
        strobes: Collection[int] = (),
        modes: Mapping[int, tuple[int, int]] | None = None,
        programs: Collection[int] = (),
    ) -> None:
        self.width = len_of(profile, mode)
        self._strobes, self._modes, self._programs = strobes, modes or {}, programs
        self._decoder = Decoder([of_kind(profile, mode)], {profile.id: profile})
        self._brightest = 0.0

    def look(self, slots: Sequence[int]) -> Seen:
        [seen] = self._decoder.decode({1: bytes(slots)})
        let_through = all(low <= slots[slot - 1] <= high for slot, (low, high) in self._modes.items())
        return seen if let_through else replace(seen, light=0.0)

    def answer(self, question: Question) -> Answer:
        if question.steps:
            return self.step([question.before, *question.steps])
        return self.seen(between(question.before, question.then), question.answers)

    def step(self, stands: Sequence[Sequence[int]]) -> Answer:
        """From which of the states after the first one on there is light."""
        lit = [self.look(slots).light > UNSEEN for slots in stands[1:]]
        if any(self._flashes(slots) for slots, light in zip(stands[1:], lit, strict=True) if light):
            return Answer.FLASHES
        return STEPS[lit.index(True)] if any(lit) else Answer.NOTHING

    def seen(self, slots: Sequence[Sequence[int]], offered: Sequence[Answer]) -> Answer:
        """What is seen as the slots go this way."""
        if any(self._runs(one) for one in (slots[0], slots[-1])):
            return Answer.COLOURS if Answer.COLOURS in offered else Answer.OTHER
        course = [self.look(one) for one in slots]
        before, after = course[0], course[-1]
        self._brightest = max(self._brightest, *(one.light for one in course))
        if any(one.light > UNSEEN and self._flashes(at) for one, at in zip(course, slots, strict=True)):
            return Answer.FLASHES
        if after.light <= UNSEEN:
            passes = Answer.PASSES if max(one.light for one in course) > UNSEEN else Answer.NOTHING
            return passes if before.light <= UNSEEN else Answer.DARK
        if Answer.RED not in offered and Answer.GLOWS in offered:
            return Answer.GLOWS
        if before.light <= FAINT * after.light:
            return Answer.GLOWS if after.light < FAINT * self._brightest else _name(after)
        if after.light <= FAINT * before.light:
            return Answer.DARK
        return self._changes(course, offered)

    def _changes(self, course: Sequence[Seen], offered: Sequence[Answer]) -> Answer:
        before, after = course[0], course[-1]
        apart = math.dist(_uv(before), _uv(after))
        names = {_name(one) for one in course}
        if len(names & set(NAMED)) >= 3 and Answer.COLOURS in offered:
            return Answer.COLOURS
        if apart < ALIKE_UV or (_name(before) == _name(after) and _name(after) in NAMED):
            if abs(after.light - before.light) < ALIKE_LIGHT * max(after.light, before.light):
                return Answer.NOTHING
            darker = after.light < before.light and Answer.DARKER in offered
            return Answer.DARKER if darker else Answer.OTHER
        if _name(before) not in WHITES or _name(after) not in WHITES:
            return _name(after)
        mired = _mired(after) - _mired(before)
        duv = (after.duv or 0.0) - (before.duv or 0.0)
        if abs(duv) * 4000.0 > abs(mired):
            return Answer.GREENER if duv > 0.0 else Answer.PINKER
        return Answer.COOLER if mired < 0.0 else Answer.WARMER

    def _flashes(self, slots: Sequence[int]) -> bool:
        return any(slots[slot - 1] > 9 for slot in self._strobes)

    def _runs(self, slots: Sequence[int]) -> bool:
        return any(slots[slot - 1] > 9 for slot in self._programs)

    def probed(self) -> tuple[Layout, list[Question]]:
        """The layout that is found, and all that was asked."""
        answers: list[Answer] = []
        asked: list[Question] = []
        while isinstance(now := asked_so_far(self.width, answers), Question):
            answer = self.answer(now)
            asked.append(now)
            answers.append(answer if answer in now.answers else Answer.OTHER)
        return now, asked


def between(before: Sequence[int], then: Sequence[int]) -> list[list[int]]:
    """Slots on their way from one state to the other."""
    return [[round(a + i / 16 * (b - a)) for a, b in zip(before, then, strict=True)] for i in range(17)]


def len_of(profile: Profile, mode: str) -> int:
    layout = profile.mode(mode)
    assert layout is not None
    return layout.width


def _uv(seen: Seen) -> tuple[float, float]:
    x, y = seen.xy
    below = -2.0 * x + 12.0 * y + 3.0
    return 4.0 * x / below, 9.0 * y / below


def _mired(seen: Seen) -> float:
    """Of a light that is white to a person, if not to the CIE: that of the nearest white."""
    return 1e6 / (seen.cct_k or 6500.0)


def _name(seen: Seen) -> Answer:
    if seen.cct_k is not None and seen.duv is not None and seen.cct_k > 2000.0 and abs(seen.duv) < 0.03:
        return Answer.WARM if seen.cct_k < 3800 else Answer.COOL if seen.cct_k > 5000 else Answer.WHITE
    uv = _uv(seen)
    names = NAMED | {Answer.WHITE: (0.2, 0.47)}
    return min(names, key=lambda name: math.dist(uv, names[name]))
