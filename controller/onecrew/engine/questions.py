"""Questions: what clients ask of a running engine, each answered by the part that knows.

What the desk alone can answer is in ``queries``, what a helper process reads in ``records``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from inspect import isawaitable
from pathlib import Path
from typing import Any

from onecrew.commands.command import Command
from onecrew.engine import matches, records, stills
from onecrew.engine.desk import Desk
from onecrew.engine.grey_cards import grey_card, pictures
from onecrew.engine.late_imports import imported
from onecrew.engine.log_feed import LogFeed
from onecrew.engine.queries import Answer, SlowAnswer, answer
from onecrew.engine.remotes import Remotes
from onecrew.engine.sources import Sources
from onecrew.log.happenings import Happening


class Questions:
    """Answers what clients ask. ``show`` is the show's file; ``clock`` gives monotonic seconds."""

    def __init__(
        self,
        desk: Desk,
        show: Path,
        log_feed: LogFeed,
        remotes: Remotes,
        sources: Sources,
        carry_out: Callable[[Command], None],
        note: Callable[[Happening], None],
        clock: Callable[[], float],
    ) -> None:
        """``carry_out`` and ``note`` are for the one question that stores what it found."""
        self._desk = desk
        self._show = show
        self._log_feed = log_feed
        self._clock = clock
        self._kept = records.Kept()
        self._own: dict[str, Callable[[dict[str, Any]], Answer | SlowAnswer]] = {
            "log": log_feed.lines,
            "moment": lambda _: self._recorded_state(),
            "pair": remotes.pair,
            "sources": lambda asked: (
                sources.release() if asked.get("release") else sources.answer(desk.show, desk.universes)
            ),
            "calibration": lambda asked: by("calibrating", "calibration", desk, asked),
            "tint": lambda asked: by("calibrating", "tint", desk, asked),
            "probe": lambda asked: by("kinds", "probe", desk, asked),
            "store-match": lambda asked: matches.store(asked, desk.show, carry_out, note),
            "stills": lambda asked: stills.plan(desk, asked),
            "keep-stills": lambda asked: stills.keep_list(desk, show, asked),
            "grey-card": lambda asked: grey_card(desk, show, asked),
            "pictures": lambda asked: pictures(show, asked),
            "import": lambda asked: by("kinds", "import_gdtf", desk, show, asked),
        }

    def answer(self, topic: str, arguments: dict[str, Any]) -> Answer | SlowAnswer:
        """Return the answer, or a coroutine where it takes long; raises ``Mistake`` with a sentence."""
        if topic in self._own:
            return self._own[topic](arguments)
        if topic in records.TOPICS:
            recorded = self._recorded_state() if topic == "sheet" else None
            return records.answer(
                topic, arguments, self._desk, self._show, self._log_feed, recorded, self._kept
            )
        if topic == "profiles" and arguments.get("again"):
            return by("kinds", "profiles_again", self._desk, self._show)
        return answer(topic, arguments, self._desk)

    def _recorded_state(self) -> Answer:
        return self._log_feed.recorded_state(self._desk, self._clock())


def by(module: str, function: str, *arguments: object) -> Answer | SlowAnswer:
    """The answer of a function of one of the engine's modules, which is imported the first time."""
    name = f"onecrew.engine.{module}"
    if name not in sys.modules:
        return _first_by(name, function, *arguments)
    known: Answer | SlowAnswer = getattr(sys.modules[name], function)(*arguments)
    return known


async def _first_by(module: str, function: str, *arguments: object) -> Answer:
    answer: Any = getattr(await imported(module), function)(*arguments)
    return dict(await answer if isawaitable(answer) else answer)
