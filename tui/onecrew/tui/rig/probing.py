"""Probing on the Rig screen: an unknown lamp's slots rise one by one, and the person says what it does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from textual import events
from textual.widgets import Static

from onecrew.commands.light import AGAIN_S, RISEN_S, RaiseSlots
from onecrew.language import names, reading
from onecrew.show.destination import SLOTS
from onecrew.show.show import Show
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.form import Form
from onecrew.tui.dialogs.listing import Key, Line, Lines, Listing
from onecrew.tui.rig.addresses import Kind, fault, free_from

KEYS = (
    Key("enter", "Enter", "this is what it does", "answer"),
    Key("space", "Space", "take the light away at once; again shows it once more", "show"),
    Key("backspace", "Backspace", "the question before", "back"),
)
CAUTION = (
    "Slots rise slowly, but an unknown one can make a lamp flash: look beside it, not into it; Space takes "
    "the light away. Darken the room, so that faint light shows. Count the slots of its mode in its menu."
)


@dataclass(frozen=True, slots=True)
class Unknown:
    """A lamp of which only its place and its number of slots are known."""

    universe: int
    address: int
    width: int
    skip: int
    name: str
    """What a profile of it is to be called."""


def probe_form(show: Show, kinds: Sequence[Kind], universe: int) -> Form[Unknown]:
    """Asks where the unknown lamp is and how many slots its mode takes."""

    def read(texts: dict[str, str]) -> Unknown:
        width = reading.whole(texts["slots"], "slots", 1, SLOTS)
        number, address = names.universe(texts["universe"]), names.address(texts["address"])
        if wrong := fault(show.rig.fixtures, kinds, number, address, width):
            raise ValueError(f"{wrong}; give the lamp another address in its menu")
        if texts["profile"] in {kind.profile for kind in kinds}:
            raise ValueError(f"there is a profile {texts['profile']} already; give another name")
        skip = reading.whole(texts["leave out"], "leave out", 0, width - 1)
        return Unknown(number, address, width, skip, names.fixture_id(texts["profile"]))

    taken = {kind.profile for kind in kinds}
    number = next(n for n in range(1, len(taken) + 2) if f"probed{n}" not in taken)
    fields = {
        "universe": str(universe),
        "address": str(free_from(show.rig.fixtures, kinds, universe, 8) or 1),
        "slots": "",
        "profile": f"probed{number}",
        "leave out": "0",
    }
    return Form("Probe an unknown lamp", fields, read, f"{CAUTION} Leave out: first slots that stay at 0.")


class Probing(Listing):
    """Question after question; the answer is ("found", …) with ``found`` set, or None where it was ended."""

    def __init__(self, desk: Desk, lamp: Unknown) -> None:
        super().__init__("Asking the engine…", (), KEYS, empty="", back="black, and an end")
        self.desk, self.lamp = desk, lamp
        self.answers: list[str] = []
        self.found: dict[str, Any] = {}
        self._wanted: tuple[int, ...] = ()
        self._then: tuple[int, ...] = ()

    def on_mount(self) -> None:
        super().on_mount()
        self.set_interval(AGAIN_S, self._hold)
        self._ask()

    def on_unmount(self) -> None:
        self._black()

    def _ask(self) -> None:
        lamp = self.lamp
        self.desk.fetch("probe", self._have, width=lamp.width, skip=lamp.skip, answers=list(self.answers))

    def _have(self, answer: dict[str, Any]) -> None:
        if not self.is_attached:
            return
        if "words" not in answer:
            self.found = answer
            self.dismiss(("found", ""))
            return
        self.lines = [
            Line(word, meaning if meaning == f"{word} light" else f"{word}: {meaning}")
            for word, meaning in answer["answers"]
        ]
        self.chosen = 0
        self.query_one(".question", Static).update(f"{len(self.answers) + 1}. {answer['words']}")
        self._fit(self.app.size.height)
        self.query_one(Lines).renew()
        self._then = tuple(answer["then"])
        before = tuple(answer["before"])
        if before == self._wanted:
            self._rise()
        else:
            self._want(before)
            at = len(self.answers)
            self.set_timer(RISEN_S, lambda: self._rise(at))

    def _rise(self, at: int | None = None) -> None:
        """The slots that are asked about go up, unless something else is asked by now."""
        if self.is_attached and at in (None, len(self.answers)):
            self._want(self._then)

    def _want(self, slots: tuple[int, ...]) -> None:
        self._wanted = slots
        self._hold()

    def _hold(self) -> None:
        if self._wanted:
            lamp = self.lamp
            self.desk.send(RaiseSlots(universe=lamp.universe, address=lamp.address, slots=self._wanted))

    def _black(self) -> None:
        self._wanted = ()
        self.desk.send(RaiseSlots())

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()  # the listing's own keys would end it
        if event.key in ("up", "down"):
            self._move(1 if event.key == "down" else -1)
        elif event.key == "escape":
            self.dismiss(None)
        elif event.key == "space" and self._then:
            if self._wanted:
                self._black()
            else:
                self._want(self._then)
        elif event.key == "backspace" and self.answers:
            self.answers.pop()
            self._ask()
        elif event.key == "enter" and self.lines:
            said = self.lines[self.chosen].value
            self.lines = ()
            if said == "flashes":
                self._black()
            self.answers.append(said)
            self._ask()
