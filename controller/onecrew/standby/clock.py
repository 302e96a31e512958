"""Standby clock: how far the clock of another machine is from this one's, by asking it now and then. Pure.

As in the Network Time Protocol (RFC 5905 §8): the answer was given somewhere between the question and its
arrival, so half the round trip is the error at most, and of many answers the quickest knows best.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

KEPT = 16
"""Answers that are compared: eight seconds of them, in which two clocks drift apart by less than 1 ms."""
STEP_S = 0.001
"""A better estimate is taken up when it differs by this much, or at once when it is the first."""


@dataclass(frozen=True, slots=True)
class Answer:
    round_trip_s: float
    ahead_s: float


class StandbyClock:
    """Estimates by how much the other clock is ahead of ours."""

    def __init__(self) -> None:
        self._answers: deque[Answer] = deque(maxlen=KEPT)
        self.ahead_s: float | None = None
        """The other clock less ours, seconds; None before the first answer."""

    def take(self, asked: float, theirs: float, heard: float) -> bool:
        """Takes an answer: asked and heard on our clock, ``theirs`` on the other; true if that moved us."""
        if heard < asked:
            return False
        self._answers.append(Answer(heard - asked, theirs - (asked + heard) / 2.0))
        best = min(self._answers, key=lambda answer: answer.round_trip_s)
        if self.ahead_s is not None and abs(best.ahead_s - self.ahead_s) < STEP_S:
            return False
        self.ahead_s = best.ahead_s
        return True
