"""The walk of a calibration: from white to white and back, by what the user types. No lamp, no I/O."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from onecrew.cli.meter import EXAMPLE, Metered, metered
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_plan import Question, checked, reading
from onecrew.show.show import Reading

FAR_OFF = 0.03
"""Δu′v′ from which a reading is doubted: 3200 K read as 4300 K."""
HELP = (
    f"Type what the meter says, in any order: {EXAMPLE} (colour temperature, Duv, light), or\n"
    "x=.4301 y=.4012 in place of the first two. Light may be in any unit, or left out of every reading.\n"
    "skip: leave this white out · back: return to the one before · done: enough, show the result\n"
    "Enter alone keeps a reading that is there. Ctrl-C ends and changes nothing."
)


@dataclass
class Walk:
    """Where the walk stands. ``hear`` moves it."""

    questions: Sequence[Question]
    answers: dict[int, Metered] = field(default_factory=dict)
    at: int = 0
    """Index of the white that is asked; past the last when all were."""
    _doubted: str = ""

    @property
    def over(self) -> bool:
        return self.at >= len(self.questions)

    @property
    def question(self) -> Question:
        return self.questions[self.at]

    def hear(self, text: str) -> str:
        """Takes one line; returns a remark for the user, mostly empty. Raises ``Misuse`` and stays."""
        word = text.strip().lower()
        match word:
            case "help" | "?":
                return HELP
            case "done" | "d" | "end":
                self.at = len(self.questions)
            case "skip" | "s":
                self.answers.pop(self.at, None)
                self.at += 1
            case "back" | "b":
                if self.at == 0:
                    return "this is the first one"
                self.at -= 1
            case "" if self.at in self.answers:
                self.at += 1
            case _:
                return self._read(word)
        self._doubted = ""
        return ""

    def readings(self) -> tuple[Reading, ...]:
        """What was read so far, in the order of the questions."""
        return tuple(
            reading(self.questions[at], read.cct_k, read.duv, read.light)
            for at, read in sorted(self.answers.items())
        )

    def _read(self, text: str) -> str:
        read = metered(text, self.question.asked.cct_k)
        others = [answer for at, answer in self.answers.items() if at != self.at]
        if any((other.light is None) != (read.light is None) for other in others):
            has = "no light" if read.light is not None else "a light"
            raise Misuse(f"the readings so far have {has} value; give one for all or for none")
        [one] = checked([reading(self.question, read.cct_k, read.duv, read.light)])
        if one.off_by > FAR_OFF and text != self._doubted:
            self._doubted = text
            return (
                f"{read.cct_k:.0f} K with Duv {read.duv:+.4f} is far from what was asked: "
                "type it again if it is right, or correct it"
            )
        self.answers[self.at] = read
        self.at += 1
        self._doubted = ""
        return ""
