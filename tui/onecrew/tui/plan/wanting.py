"""The reading wanted at the subject is typed, and the levels that give it are offered."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from onecrew.commands.light import SetLight
from onecrew.plan.saying import answer_lines
from onecrew.plan.wants import Wants, read_wants
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.readings import Readings

if TYPE_CHECKING:
    from onecrew.plan.inverse import Answer
    from onecrew.show.photometry import Units

SET = Key("enter", "Enter", "set these levels; u takes back one lamp at a time", "set")


def ask_want(screen: BaseScreen, readings: Readings) -> None:
    """Ask for the reading wanted at the subject, and offer the levels that give it."""
    show, snapshot = screen.desk.show, screen.desk.snapshot
    if show is None or snapshot is None:
        return

    async def work(wants: Wants) -> None:
        _offer(screen, await readings.wanted(show, snapshot, wants), show.room.units)

    def take(wants: Wants) -> None:
        screen.run_worker(work(wants), group="want")

    hint = "key f/2.8+0.3 ratio 4:1 · key +0.5 contrast 3:1 · fall 1 across 0.7"
    read = partial(read_wants, camera=show.camera)
    screen.ask(Ask("Which reading at the subject?", hint, read), take)


def _offer(screen: BaseScreen, found: Answer, units: Units) -> None:
    snapshot = screen.desk.snapshot
    lines = [Line("", line) for line in answer_lines(found, units)]
    if snapshot is not None and snapshot.master < 1.0:
        lines.append(Line("", "The master is not at full: these levels are for a master at full."))

    def take(_: tuple[str, str]) -> None:
        for each in found.settings:
            screen.desk.send(SetLight(fixtures=(each.id,), level=each.level))

    keys = (SET,) if found.settings else ()
    screen.ask(Listing("For that reading", lines, keys, empty="nothing would change"), take)
