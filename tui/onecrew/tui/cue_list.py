"""The cues on the screens: the list that # opens, what can be done with each, and the palette's entries."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from onecrew.commands.command import Command
from onecrew.commands.cue_list import CopyCue, CopyTimes, RenumberCue, SetInCues
from onecrew.commands.cues import PutCue, RemoveCue
from onecrew.commands.light import SetLight
from onecrew.commands.running import Recall
from onecrew.commands.table import in_words
from onecrew.errors import Misuse, Refused
from onecrew.language import names
from onecrew.language.light import EXAMPLES, read_light
from onecrew.language.phrases import build
from onecrew.show.numbers import next_number, number_between
from onecrew.show.show import Cue, Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import words
from onecrew.tui.base import BaseScreen
from onecrew.tui.cue_form import cue_form
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.form import Form, following, gone, held_to
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.files import ask_sheet

KEYS = (
    Key("enter", "Enter", "recall it", "recall"),
    Key("e", "e", "name, shortcut, times, note", "edit"),
    Key("l", "l", "light of lamps, in this cue or in several", "light"),
    Key("c", "c", "copy it, look and times, to another number", "copy"),
    Key("n", "n", "another number", "renumber"),
    Key("shift+up", "Shift+↑", "earlier: a number before the cue above", "earlier"),
    Key("shift+down", "Shift+↓", "later: a number after the cue below", "later"),
    Key("t", "t", "copy its times to other cues", "times"),
    Key("s", "s", "its look sheet, opened in the browser", "sheet"),
    Key("x,delete", "x", "delete it; undo brings it back", "delete"),
)
OFFERED = (
    ("Edit", "edit"),
    ("Light in", "light"),
    ("Copy", "copy"),
    ("Look sheet of", "sheet"),
    ("Delete", "delete"),
)
"""What the palette offers of each cue."""


def ask(screen: BaseScreen, at: str = "") -> None:
    """List the cues of the open scene, ``at`` or the present one chosen, and do what is asked with one."""
    show, snapshot = screen.desk.show, screen.desk.snapshot
    if show is None or snapshot is None:
        return
    lines = [line(cue, snapshot) for cue in show.cues]

    def take(answer: tuple[str, str]) -> None:
        what, number = answer
        cue = show.cue(number)
        if cue is not None:
            do(screen, what, cue)

    question = f"Cues of {show.scene}: type a number, or use ↑ ↓"

    def missing(number: str) -> str:
        return names.no_cue(number, show.cues, names.cues_elsewhere(show))

    at = at or snapshot.cue or ""
    screen.ask(Listing(question, lines, KEYS, at=at, empty=words.NO_CUES, missing=missing), take)


def line(cue: Cue, snapshot: Snapshot) -> Line:
    state = "now" if cue.number == snapshot.cue else "next" if cue.number == snapshot.next else ""
    kept = "edits kept" if cue.number in snapshot.kept_edits else ""
    said = [f"{cue.number:<5} {cue.name}".rstrip(), state, kept, words.times(cue)]
    return Line(cue.number, " · ".join(filter(None, said)), cue.number)


def do(screen: BaseScreen, what: str, listed: Cue) -> None:
    """One of the answers of ``KEYS``, for a cue as it was when it was listed."""
    number, show = listed.number, screen.desk.show
    fault = _fault(show, listed)
    cue = show.cue(number) if show is not None else None
    if fault or show is None or cue is None:
        screen.desk.say(f"{fault[:1].upper()}{fault[1:]}.", refused=True)
        return
    ask = partial(_ask, screen, cue)
    match what:
        case "recall":
            screen.send(Recall(cue=number))
        case "edit":
            ask(_cue_form(screen, number))
        case "light":
            ask(light_form(show, number, _lamp(screen, show)))
        case "copy":
            question = f"Copy cue {number} to which number?"
            ask(Ask(question, "Look and times.", partial(_to_number, CopyCue, number), free_number(show)))
        case "renumber":
            question, hint = f"Another number for cue {number}", "Numbers are the order: 2, 2.5, 3."
            ask(Ask(question, hint, partial(_to_number, RenumberCue, number), number))
        case "times":
            question, hint = f"Copy the times of cue {number} to which cues?", f"{words.times(cue)}. As 3,4,7"
            ask(Ask(question, hint, lambda text: CopyTimes(cue=number, to=names.numbers(text))))
        case "sheet":
            ask_sheet(screen, f"cue {number}", f"cue-{number}", cue=number)
        case "delete":
            screen.send(RemoveCue(number=number), f"Cue {number} deleted: u brings it back.")
        case "earlier" | "later":
            _move(screen, show, cue, later=what == "later")


def _to_number(command: type[CopyCue | RenumberCue], cue: str, text: str) -> Command:
    return command(cue=cue, to=names.new_number(text))


def _is(cue: Cue, listed: Cue) -> bool:
    """Whether it is the cue that was listed, whatever number it has by now."""
    return cue.look == listed.look or cue.name == listed.name != ""


def _fault(show: Show | None, listed: Cue) -> str:
    """What another window made of a cue since it was listed; '' where it is there under its number."""
    number = listed.number
    cue = show.cue(number) if show is not None else None
    if show is None or (cue is not None and _is(cue, listed)):
        return ""
    elsewhere = names.cues_elsewhere(show)
    if number in elsewhere:
        return names.no_cue(number, show.cues, elsewhere)
    moved = next((one.number for one in show.cues if _is(one, listed)), None)
    if moved is not None:
        return f"cue {number} is cue {moved} by now"
    return gone(f"cue {number}") if cue is None else f"cue {number} is another one by now: # lists the cues"


def _ask(screen: BaseScreen, cue: Cue, dialog: Ask[Any] | Form[Any]) -> None:
    """Ask about a cue, and send the command that is the answer."""

    def take(command: Command) -> None:
        screen.send(command, f"{in_words(command).capitalize()}: done, u takes it back.")

    screen.ask(held_to(dialog, lambda: _fault(screen.desk.show, cue)), take)


def _cue_form(screen: BaseScreen, number: str) -> Form[PutCue]:
    """The form of a cue as the show has it when Enter is pressed."""

    def now() -> tuple[Show, Cue] | None:
        show = screen.desk.show
        cue = show.cue(number) if show is not None else None
        return (show, cue) if show is not None and cue is not None else None

    return following(now, lambda found: cue_form(*found), gone(f"cue {number}"))


def free_number(show: Show) -> str:
    """The number that a new cue is offered; '' where one has to be typed."""
    try:
        return next_number(show)
    except Refused:
        return ""


def _lamp(screen: BaseScreen, show: Show) -> str:
    """The lamp under the cursor, which is the same on every screen."""
    lamps = show.rig.fixtures
    return lamps[screen.desk.cursor.index(lamps)].id if lamps else ""


def light_form(show: Show, number: str, lamp: str) -> Form[SetInCues]:
    """Changes lamps in cues, whether they are showing or not."""

    def read(texts: dict[str, str]) -> SetInCues:
        lamps = names.lamps(texts["lamps"], show)
        change = build(SetLight, fixtures=lamps, **read_light(texts["light"]).changes())
        cues = tuple(number for number in re.split(r"[\s,]+", texts["cues"]) if number)
        for number in cues:
            if show.cue(number) is None:
                raise Misuse(names.no_cue(number, show.cues, names.cues_elsewhere(show)))
        return build(SetInCues, cues=cues, change=change)

    fields = {"cues": number, "lamps": lamp, "light": ""}
    hint = f"Cues and lamps with commas between; a role or all stands for lamps. Light: {EXAMPLES}"
    return Form("Light in cues, showing or not", fields, read, hint)


def _move(screen: BaseScreen, show: Show, cue: Cue, *, later: bool) -> None:
    """Past the next cue or the one before, by a number that is free there."""
    numbers = ["", *(one.number for one in show.cues), ""]
    at = numbers.index(cue.number)
    if not numbers[at + 1 if later else at - 1]:
        screen.desk.say(f"Cue {cue.number} is the {'last' if later else 'first'} already.", refused=True)
        return
    low, high = numbers[at + 1 : at + 3] if later else numbers[at - 2 : at]
    try:
        to = number_between(show, low, high)
    except Refused as refused:
        screen.desk.say(f"{refused}.", refused=True)
    else:
        screen.send(RenumberCue(cue=cue.number, to=to), f"Cue {cue.number} is cue {to} now: u takes it back.")


def entries(screen: BaseScreen) -> Iterator[tuple[str, Callable[[], None]]]:
    """What the palette offers of the cues: (what it is called, what it does)."""
    for cue in screen.desk.show.cues if screen.desk.show is not None else ():
        for word, what in OFFERED:
            yield f"{word} cue {cue.number} {cue.name}".rstrip(), partial(do, screen, what, cue)
