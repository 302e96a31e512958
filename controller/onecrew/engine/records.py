"""Records: what clients ask of the take log and the show's past: takes, look sheets, exports, versions.

A long log would hold up frames, so a helper reads it (``engine.record_answers``). Nothing here changes the
show or the log: a look that is restored and a breakdown come back as what a command then adds.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from onecrew.engine.desk import Desk
from onecrew.engine.helper import asked
from onecrew.engine.log_feed import LogFeed
from onecrew.engine.queries import SlowAnswer, read
from onecrew.log.logfile import log_path
from onecrew.show.base import CueNumber, Model

HELPER = "onecrew.engine.record_answers"
WRITTEN_S, LOOK_S = 1.0, 0.02
"""How long to wait for the log's file at most, and how often to look."""
FilePath = Annotated[str, Field(min_length=1, max_length=1000)]
TakeId = Annotated[int, Field(ge=0)]
"""Number of the log's entry with which a take begins."""


class Nothing(Model):
    """A question without arguments."""


class OfTake(Model):
    take: TakeId


class Sheet(Model):
    """The sheet of a take, of a cue, or of what is sent now; ``to`` ends in its form."""

    to: FilePath
    take: TakeId | None = None
    cue: CueNumber | None = None


class Export(Model):
    """One take, a setup or every take for the edit; ``to`` ends in its form."""

    to: FilePath
    take: TakeId | None = None
    setup: str | None = None
    fps: float | None = None
    sync: Annotated[str, Field(max_length=80)] | None = None
    """Where the take's start is in the footage: timecode, seconds or clock."""


class Version(Model):
    number: Annotated[int, Field(ge=0)]


TOPICS: dict[str, tuple[type[Model], str]] = {
    "takes": (Nothing, "the list of takes"),
    "sheet": (Sheet, "the look sheet"),
    "export": (Export, "the export"),
    "restore": (OfTake, "the look of the take"),
    "breakdown": (OfTake, "the breakdown"),
    "versions": (Nothing, "the list of versions"),
    "version": (Version, "the version"),
}
"""By topic: its arguments, and what is answered in words."""


class Kept:
    """The list of takes as it was answered last: it is the same until the log's file is another."""

    def __init__(self) -> None:
        self._of: tuple[int, ...] | None = None
        self._takes: dict[str, Any] = {}

    def takes(self, log: Path) -> dict[str, Any] | None:
        """The list, None where the file is not the one that it was read from."""
        return self._takes if self._of is not None and self._of == stamp(log) else None

    def keep(self, of: tuple[int, ...] | None, takes: dict[str, Any]) -> None:
        self._of, self._takes = of, takes


def stamp(log: Path) -> tuple[int, ...] | None:
    """What changes when a file does; None where it cannot be seen."""
    try:
        found = log.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def answer(
    topic: str,
    arguments: dict[str, Any],
    desk: Desk,
    path: Path,
    log_feed: LogFeed,
    recorded: Any,
    kept: Kept,
) -> SlowAnswer:
    """What one of ``TOPICS`` asks about the show at ``path``; ``recorded`` is what is sent now."""
    arguments_of, what = TOPICS[topic]
    question = {
        "topic": topic,
        "path": str(path),
        "show": desk.show.model_dump(mode="json", exclude_defaults=True),
        "asked": read(arguments_of, arguments).model_dump(mode="json", exclude_none=True),
        "moment": recorded,
    }
    return _answered(question, what, log_feed, kept)


async def _answered(question: dict[str, Any], what: str, log_feed: LogFeed, kept: Kept) -> dict[str, Any]:
    """The helper's answer, once what has happened is in the log's file, or cannot be written for now."""
    for _ in range(round(WRITTEN_S / LOOK_S)):
        if not log_feed.waits:
            break
        await asyncio.sleep(LOOK_S)
    if question["topic"] != "takes":
        return await asked(HELPER, question, what)
    log = log_path(Path(question["path"]))
    if (known := kept.takes(log)) is not None:
        return known
    of = stamp(log)  # before it is read: what comes meanwhile makes it another
    found = await asked(HELPER, question, what)
    kept.keep(of, found)
    return found
