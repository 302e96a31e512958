"""Grey cards: what clients ask during a guided run of stills of one: the plan, what has come, what it says.

Pictures are read by a helper (``engine.grey_card_answers``). Nothing here is light, and nothing is stored.
"""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from onecrew.engine.desk import Desk
from onecrew.engine.helper import asked
from onecrew.engine.late_imports import imported
from onecrew.engine.protocol import CARDS, PICTURES_S
from onecrew.engine.queries import Answer, SlowAnswer, read
from onecrew.engine.records import FilePath
from onecrew.errors import Mistake, Trouble
from onecrew.show.base import Model, Name
from onecrew.show.show import Reading

HELPER = "onecrew.engine.grey_card_answers"
MOST_PICTURES = 500

Entries = Annotated[tuple[dict[str, Any], ...], Field(max_length=400)]
"""Stills as entries of a list, in order."""
Names = Annotated[tuple[str, ...], Field(max_length=MOST_PICTURES)]


class Card(Model):
    """A run of stills of a grey card, as far as it has come."""

    fixture: Name
    like: Name
    """The lamp that it is to look like."""
    folder: FilePath
    place: Annotated[str, Field(max_length=80)] = ""
    """Where the card is, as x,y,width,height; empty: in the middle."""
    curve: Annotated[str, Field(max_length=80)] = ""
    look: FilePath | None = None
    """A picture that came, to be looked at."""
    before: Names = ()
    """Pictures that lay in the folder before the run."""
    stills: Entries = ()
    """Those that were taken; empty: what is to be taken is asked."""
    closing: Entries = ()
    """Those of the closing check."""
    readings: Annotated[tuple[Reading, ...], Field(max_length=200)] = ()
    """What the stills said, for the closing check."""


def grey_card(desk: Desk, show: Path, arguments: dict[str, Any]) -> SlowAnswer:
    """What to take, whether a picture is clipped, or what the stills say; see ``grey_card_answers``."""
    card = read(Card, arguments)
    question = {
        "path": str(show),
        "show": desk.show.model_dump(mode="json", exclude_defaults=True),
        "asked": {**card.model_dump(mode="json"), "folder": str(_folder(show, card.folder))},
    }
    return asked(HELPER, question, "what the grey card shows", PICTURES_S)


class _Folder(Model):
    folder: FilePath


def pictures(show: Path, arguments: dict[str, Any]) -> SlowAnswer:
    """The pictures of a folder, with size and time of change: ``{"folder", "files": {name: […]}}``."""
    folder = _folder(show, read(_Folder, arguments).folder)

    def look(arrivals: Any) -> Answer:
        files: dict[str, list[int]] = {}
        try:
            if folder == show.parent / CARDS:
                folder.mkdir(exist_ok=True)
            for file in arrivals.pictures_in(folder):
                with contextlib.suppress(FileNotFoundError):  # it has just been moved away
                    found = file.stat()
                    files[file.name] = [found.st_size, found.st_mtime_ns]
        except OSError as error:
            raise Trouble(
                f"no pictures can come to {folder} ({error.strerror}): make that folder first"
            ) from error
        if len(files) > MOST_PICTURES:
            raise Mistake(f"{folder} has {len(files)} pictures; use a folder that has none yet")
        return {"folder": str(folder), "files": files}

    async def work() -> Answer:
        return await asyncio.to_thread(look, await imported("onecrew.stills.arrivals"))

    return work()


def _folder(show: Path, said: str) -> Path:
    """A folder as it is said; one without a path of its own is beside the show."""
    return show.parent / Path(said).expanduser()
