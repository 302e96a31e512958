"""The lines of the log as they are kept here and searched."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

KEPT = 2000


@dataclass(frozen=True, slots=True)
class LogLine:
    """One thing that happened: its number, wall-clock time, kind in one word, and sentence."""

    n: int
    at: float
    kind: str
    text: str

    def clock(self) -> str:
        return time.strftime("%H:%M:%S", time.localtime(self.at))

    def day(self) -> str:
        return time.strftime("%Y-%m-%d", time.localtime(self.at))

    def has(self, words: Iterable[str]) -> bool:
        """Whether every word stands somewhere in the line."""
        whole = f"{self.clock()} {self.kind} {self.text}".lower()
        return all(word in whole for word in words)


class Lines:
    """The newest lines, oldest first, at most ``KEPT``."""

    def __init__(self) -> None:
        self._lines: deque[LogLine] = deque(maxlen=KEPT)
        self.last = 0

    def take(self, answer: Mapping[str, Any]) -> bool:
        """Take in an answer of the engine; true where it brought something."""
        fresh = [
            LogLine(int(line["n"]), float(line["at"]), str(line["kind"]), str(line["text"]))
            for line in answer.get("lines", ())
        ]
        if int(answer.get("last", self.last)) < self.last:  # another engine, another count
            self._lines.clear()
            self.last = 0
        fresh = [line for line in fresh if line.n > self.last]
        self._lines.extend(fresh)
        self.last = max([int(answer.get("last", 0)), self.last, *(line.n for line in fresh)])
        return bool(fresh)

    def matching(self, wish: str) -> list[LogLine]:
        words = wish.lower().split()
        return [line for line in self._lines if line.has(words)]

    def __len__(self) -> int:
        return len(self._lines)
