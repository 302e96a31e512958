"""A person who looks at a lamp of the virtual room while its slots are raised, and says what it does."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.describe import of_kind
from onecrew.fixtures.probe import Answer, Layout, Question, asked_so_far
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
    """Answers the questions of a probe about a lamp of one profile and mode; ``strobes`` names its slots
    that make it flash from 10 up."""

    def __init__(self, profile: Profile, mode: str, strobes: Collection[int] = ()) -> None:
        self.width = len_of(profile, mode)
        self._strobes = strobes
        self._decoder = Decoder([of_kind(profile, mode)], {profile.id: profile})

    def look(self, slots: Sequence[int]) -> Seen:
        [seen] = self._decoder.decode({1: bytes(slots)})
        return seen

    def answer(self, question: Question) -> Answer:
        steps = [
            [round(a + i / 8 * (b - a)) for a, b in zip(question.before, question.then, strict=True)]
            for i in range(9)
        ]
        course = [self.look(slots) for slots in steps]
        before, after = course[0], course[-1]
        if any(one.light > UNSEEN and self._flashes(slots) for one, slots in zip(course, steps, strict=True)):
            return Answer.FLASHES
        if after.light <= UNSEEN:
            return Answer.NOTHING if before.light <= UNSEEN else Answer.DARK
        if Answer.RED not in question.answers and Answer.GLOWS in question.answers:
            return Answer.GLOWS
        if before.light <= FAINT * after.light:
            return Answer.GLOWS if self._far_darker(question, after.light) else _name(after)
        if after.light <= FAINT * before.light:
            return Answer.DARK
        apart = math.dist(_uv(before), _uv(after))
        names = {_name(one) for one in course}
        if len(names & set(NAMED)) >= 3:
            return Answer.COLOURS
        if apart < ALIKE_UV:
            same = abs(after.light - before.light) < ALIKE_LIGHT * max(after.light, before.light)
            return Answer.NOTHING if same else Answer.OTHER
        if after.cct_k is None or before.cct_k is None or after.duv is None or before.duv is None:
            return _name(after)
        mired = 1e6 / after.cct_k - 1e6 / before.cct_k
        duv = after.duv - before.duv
        if abs(duv) * 4000.0 > abs(mired):
            return Answer.GREENER if duv > 0.0 else Answer.PINKER
        return Answer.COOLER if mired < 0.0 else Answer.WARMER

    def _far_darker(self, question: Question, light: float) -> bool:
        """Whether the slot before the one that rises gave far more light."""
        risen = [i for i, (a, b) in enumerate(zip(question.before, question.then, strict=True)) if b > a]
        if not risen[0]:
            return False
        slots = list(question.then)
        slots[risen[0] - 1], slots[risen[0]] = 255, 0
        return light < FAINT * self.look(slots).light

    def _flashes(self, slots: Sequence[int]) -> bool:
        return any(slots[slot - 1] > 9 for slot in self._strobes)

    def probed(self) -> tuple[Layout, list[Question]]:
        """The layout that is found, and all that was asked."""
        answers: list[Answer] = []
        asked: list[Question] = []
        while isinstance(now := asked_so_far(self.width, answers), Question):
            answer = self.answer(now)
            asked.append(now)
            answers.append(answer if answer in now.answers else Answer.OTHER)
        return now, asked


def len_of(profile: Profile, mode: str) -> int:
    layout = profile.mode(mode)
    assert layout is not None
    return layout.width


def _uv(seen: Seen) -> tuple[float, float]:
    x, y = seen.xy
    below = -2.0 * x + 12.0 * y + 3.0
    return 4.0 * x / below, 9.0 * y / below


def _name(seen: Seen) -> Answer:
    if seen.cct_k is not None and seen.duv is not None and seen.cct_k > 2000.0 and abs(seen.duv) < 0.03:
        return Answer.WARM if seen.cct_k < 3800 else Answer.COOL if seen.cct_k > 5000 else Answer.WHITE
    uv = _uv(seen)
    names = NAMED | {Answer.WHITE: (0.2, 0.47)}
    return min(names, key=lambda name: math.dist(uv, names[name]))
