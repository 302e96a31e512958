"""The walk of a calibration: from light to light and back, by what the user types. No lamp, no I/O."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from onecrew.cli.meter import EXAMPLE, Metered, Spot, disagreeing, mean_of, metered, spot
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import Question, checked, reading
from onecrew.fixtures.closing_check import Shown
from onecrew.fixtures.emitter_plan import FAR_OFF as EMITTER_FAR_OFF
from onecrew.fixtures.emitter_plan import EmitterQuestion, apart
from onecrew.show.light import White
from onecrew.show.show import EmitterReading, Reading

FAR_OFF = 0.03
"""Δu′v′ from which a reading is doubted: 3200 K read as 4300 K."""
HELP = (
    f"Type what the meter says, in any order: {EXAMPLE} (colour temperature, Duv, light), or\n"
    "x=.4301 y=.4012 in place of the first two. Light may be in any unit, or left out of every reading.\n"
)
EMITTER_HELP = "Type what the meter says: .6902 .3081 812lx (x, y, light). Light may be in any unit.\n"
WORDS = (
    "skip: leave this one out · back: return to the one before · again: read that one once more, the mean "
    "counts\n"
    "done: enough, show the result · Enter alone keeps a reading that is there. Ctrl-C ends and changes "
    "nothing."
)


class Step(Protocol):
    """One light that is to be read."""

    @property
    def help(self) -> str: ...
    @property
    def name(self) -> str: ...
    def read(self, text: str) -> Metered | Spot: ...
    def doubt(self, read: Metered | Spot, /) -> str:
        """Why that is unlikely, as a sentence without its end; empty if it is not."""


@dataclass(frozen=True)
class WhiteStep:
    """A white at full, read without the lamp's readings."""

    question: Question
    help: str = HELP

    @property
    def name(self) -> str:
        return name_of(self.question.asked)

    def read(self, text: str) -> Metered:
        return metered(text, self.question.asked.cct_k)

    def doubt(self, read: Metered | Spot) -> str:
        assert isinstance(read, Metered)
        [one] = checked([reading(self.question, read.cct_k, read.duv, read.light)])
        return f"{read.said} is far from what was asked" if one.off_by > FAR_OFF else ""


@dataclass(frozen=True)
class EmitterStep:
    """One emitter alone at one level."""

    question: EmitterQuestion
    help: str = EMITTER_HELP

    @property
    def name(self) -> str:
        return f"{self.question.emitter} at {100 * self.question.level:.3g} %"

    def read(self, text: str) -> Spot:
        return spot(text)

    def doubt(self, read: Metered | Spot) -> str:
        assert isinstance(read, Spot)
        far = apart(read.xy, self.question.xy) > EMITTER_FAR_OFF
        x, y = self.question.xy
        return f"{read.said} is far from what the profile says (x {x:.4g} y {y:.4g})" if far else ""


@dataclass(frozen=True)
class CheckStep:
    """A white of a closing check, as the lamp was or as it is corrected."""

    shown: Shown
    corrected: bool
    help: str = HELP

    @property
    def name(self) -> str:
        at = "" if self.shown.level == 1.0 else f" at {100 * self.shown.level:.3g} %"
        return f"{name_of(self.shown.white)}{at}, {'corrected' if self.corrected else 'as it was'}"

    @property
    def slots(self) -> tuple[int, ...]:
        return (self.shown.after if self.corrected else self.shown.before).slots

    def read(self, text: str) -> Metered:
        return metered(text, self.shown.white.cct_k)

    def doubt(self, _: Metered | Spot) -> str:
        return ""


@dataclass
class Walk:
    """Where the walk stands. ``hear`` moves it."""

    steps: Sequence[Step]
    repeats: int = 1
    """How often each light is read."""
    answers: dict[int, list[Metered | Spot]] = field(default_factory=dict)
    at: int = 0
    """Index of the light that is asked; past the last when all were."""
    _more: int = 0
    """Readings of this light beyond those that there are; 0: what is typed takes their place."""
    _doubted: str = ""
    _taken: int = 0

    @property
    def over(self) -> bool:
        return self.at >= len(self.steps)

    @property
    def step(self) -> Step:
        return self.steps[self.at]

    @property
    def taken(self) -> int:
        """How many readings were taken so far, those that took the place of others among them."""
        return self._taken

    @property
    def prompt(self) -> str:
        known = self.answers.get(self.at, [])
        was = ""
        if self._more:
            was = f"  ({len(known) + 1} of {len(known) + self._more})"
        elif known:
            was = f"  (was {mean_of(known)[0].said}, Enter keeps it)"
        elif self.repeats > 1:
            was = f"  (1 of {self.repeats})"
        return f"{self.at + 1}/{len(self.steps)}  {self.step.name}{was}  > "

    def hear(self, text: str) -> str:
        """Takes one line; returns a remark for the user, mostly empty. Raises ``Misuse`` and stays."""
        word = text.strip().lower()
        match word:
            case "help" | "?":
                return self.step.help + WORDS
            case "done" | "d" | "end":
                self._go(len(self.steps))
            case "skip" | "s":
                self.answers.pop(self.at, None)
                self._go(self.at + 1)
            case "back" | "b":
                if self.at == 0:
                    return "this is the first one"
                self._go(self.at - 1)
            case "again" | "a":
                if self.at - 1 not in self.answers:
                    return "the one before has no reading yet"
                self._go(self.at - 1)
                self._more = 1
            case "" if self.at in self.answers:
                self._go(self.at + 1)
            case _:
                return self._read(word)
        return ""

    def drop(self, at: int) -> None:
        """Forgets the last reading of a light and returns to it."""
        left = self.answers.pop(at)[:-1]
        self._go(at)
        if left:
            self.answers[at] = left
            self._more = max(self.repeats - len(left), 1)

    def means(self) -> list[tuple[int, Metered | Spot]]:
        """What was read so far: (index of the step, mean of its readings), in order."""
        return [(at, mean_of(read)[0]) for at, read in sorted(self.answers.items())]

    def remarks(self) -> list[str]:
        """A sentence on every light whose readings do not agree."""
        said = [self._disagree(at) for at in sorted(self.answers)]
        return [sentence for sentence in said if sentence]

    def _go(self, at: int) -> None:
        self.at, self._more, self._doubted = at, 0, ""

    def _disagree(self, at: int) -> str:
        read = self.answers[at]
        _, out = mean_of(read)
        if not out:
            return ""
        return disagreeing(self.steps[at].name, read, out)

    def _read(self, text: str) -> str:
        read = self.step.read(text)
        others = [one for at, answers in self.answers.items() if at != self.at for one in answers]
        if self._more:
            others += self.answers[self.at]
        if any((other.light is None) != (read.light is None) for other in others):
            has = "no light" if read.light is not None else "a light"
            raise Misuse(f"the readings so far have {has} value; give one for all or for none")
        if (why := self.step.doubt(read)) and text != self._doubted:
            self._doubted = text
            return f"{why}: type it again if it is right, or correct it"
        if self._more:
            self.answers[self.at].append(read)
            self._more -= 1
        else:
            self.answers[self.at] = [read]
            self._more = self.repeats - 1
        self._doubted = ""
        self._taken += 1
        if self._more:
            return ""
        at = self.at
        self._go(at + 1)
        return self._disagree(at)


def white_readings(walk: Walk) -> tuple[Reading, ...]:
    """The readings of a walk over whites."""
    found = []
    for at, read in walk.means():
        step = walk.steps[at]
        assert isinstance(step, WhiteStep) and isinstance(read, Metered)
        found.append(reading(step.question, read.cct_k, read.duv, read.light))
    return tuple(found)


def emitter_readings(walk: Walk) -> tuple[EmitterReading, ...]:
    """The readings of a walk over emitters."""
    found = []
    for at, read in walk.means():
        step = walk.steps[at]
        assert isinstance(step, EmitterStep) and isinstance(read, Spot)
        asked = step.question
        found.append(EmitterReading(emitter=asked.emitter, level=asked.level, xy=read.xy, light=read.light))
    return tuple(found)


def name_of(white: White) -> str:
    return f"{white.cct_k:g} K" + (f" tint {white.duv:+.4g}" if abs(white.duv) >= 5e-5 else "")
