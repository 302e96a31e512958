"""The show's past on the screens: the versions that * lists on Log, to look at and to bring back."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import partial
from typing import Any

from onecrew.commands.command import Command
from onecrew.commands.session import BringBack, SettleFile
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.dialogs.page import Page

KEYS = (
    Key("enter", "Enter", "look at it: its lamps and cues, and what would change", "look"),
    Key("r", "r", "bring it back; undo takes that back", "back"),
)
FILE_KEYS = (
    Key("t", "t", "take what another program wrote to the show's file", "take"),
    Key("k", "k", "keep this desk's show and write it over that", "keep"),
)
"""While another program has written to the show's file."""
FILE: dict[str, Command] = {"take": SettleFile(take=True), "keep": SettleFile(take=False)}
NONE_YET = "No version is kept yet: each save keeps one, the last twenty stay."


def ask(screen: BaseScreen, at: str = "") -> None:
    """List the versions, the newest first, and do what is asked with one."""

    def have(answer: dict[str, Any]) -> None:
        snapshot, show = screen.desk.snapshot, screen.desk.show
        keys = (*KEYS, *FILE_KEYS) if snapshot is not None and snapshot.saved.outside else KEYS
        lines = [line(one) for one in reversed(answer.get("versions", ()))]
        question = f"Versions of {show.name if show is not None else 'the show'}"
        head = "number  written         what changed"
        listing = Listing(question, lines, keys, at=at, empty=NONE_YET, head=head)
        screen.app.push_screen(listing, take)

    def take(answer: tuple[str, str] | None) -> None:
        if answer is not None:
            do(screen, *answer)

    screen.desk.fetch("versions", have, opens=True)


def line(version: dict[str, Any]) -> Line:
    number, now = str(version["number"]), "as it is now · " if version["now"] else ""
    written = time.strftime("%m-%d %H:%M:%S", time.localtime(float(version["at"])))
    return Line(number, f"{number:<7} {written}  {now}{version['changed']}", number)


def do(screen: BaseScreen, what: str, number: str) -> None:
    """One of the answers of the keys, for the version of this number."""
    if what in FILE:
        screen.send(FILE[what])
    elif not number:
        screen.desk.say(NONE_YET, refused=True)
    elif what == "back":
        screen.send(BringBack(number=int(number)), f"Version {number} is back: u takes that back.")
    else:
        screen.desk.fetch("version", partial(_look, screen, number), opens=True, number=int(number))


def _look(screen: BaseScreen, number: str, answer: dict[str, Any]) -> None:
    lines = [
        f"Version {number}",
        "",
        f"Bringing it back changes: {answer['changes']}",
        "",
        *answer["lines"],
    ]
    screen.app.push_screen(Page("\n".join(lines)), lambda _: ask(screen, number))


def entries(screen: BaseScreen) -> Iterator[tuple[str, Command]]:
    """What the palette offers while another program wrote to the file: (what it is called, the command)."""
    snapshot = screen.desk.snapshot
    if snapshot is not None and snapshot.saved.outside:
        yield "File take: load what another program wrote to the show's file", FILE["take"]
        yield "File keep: write this desk's version over it", FILE["keep"]
