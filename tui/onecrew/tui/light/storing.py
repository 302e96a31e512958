"""Storing the present look: as a new cue, or in place of the look of one that is there, which is asked."""

from __future__ import annotations

from onecrew.commands.cues import Store
from onecrew.commands.table import read_words
from onecrew.show.show import Cue
from onecrew.tui import words
from onecrew.tui.base import BaseScreen
from onecrew.tui.cue_list import free_number
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.choose import Choice, Choose


def ask(screen: BaseScreen) -> None:
    """Ask for the number and the name; the number of a cue that is there leads to a second question."""
    snapshot, show = screen.desk.snapshot, screen.desk.show
    if snapshot is None or show is None:
        return
    free = free_number(show)

    def read(text: str) -> Store:
        store = read_words(["store", *(text or free).split()])
        assert isinstance(store, Store)
        return store if store.cue is not None or not free else store.model_copy(update={"cue": free})

    def take(store: Store) -> None:
        there = show.cue(store.cue)
        if there is not None:
            _ask_which(screen, there, store)
        else:
            screen.send(store, f"Stored as cue {store.cue}. {whole()}".rstrip())

    def whole() -> str:
        now = screen.desk.snapshot
        return words.not_stored(now) if now is not None else ""

    present = show.cue(snapshot.cue)
    hint = "A number, a name, or both: 7 Street."
    if present is not None:
        hint += f" To replace {_called(present)}, type {present.number}: you are asked first."
    hint = f"{hint} {whole()}".rstrip()
    screen.ask(Ask("Store this look as a new cue", hint, read, free), take)


def _ask_which(screen: BaseScreen, there: Cue, wanted: Store) -> None:
    """A look is replaced only by the key that says so."""
    choices = (
        Choice("n", "Store as a new cue", "You are asked for its number and name again.", "new"),
        Choice("r", f"Replace cue {_called(there)}", "Its stored look goes; undo brings it back.", "replace"),
    )

    def take(answer: str) -> None:
        if answer == "new":
            ask(screen)
        elif answer == "replace":
            done = f"Cue {_called(there)} has this look now: u takes it back."
            screen.send(wanted.model_copy(update={"replace": True}), done)

    screen.ask(Choose(f"Cue {_called(there)} is there already", choices), take)


def _called(cue: Cue) -> str:
    return f"{cue.number} {cue.name}".rstrip()
