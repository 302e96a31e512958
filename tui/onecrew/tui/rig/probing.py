"""Probing on the Rig screen: an unknown lamp's slots rise one by one, and the person says what it does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from time import monotonic
from typing import Any

from textual import events
from textual.widgets import Static

from onecrew.commands.light import AGAIN_S, RAMP_S, RISEN_S, RaiseSlots
from onecrew.language import names, reading
from onecrew.show.destination import SLOTS
from onecrew.show.show import Show
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.form import Form
from onecrew.tui.dialogs.listing import Key, Line, Lines, Listing
from onecrew.tui.rig.addresses import Kind, fault, free_from

KEYS = (
    Key("enter", "Enter", "this is what it does; letters go to an answer", "answer"),
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
        if not texts["slots"]:
            raise ValueError("type how many slots the lamp's mode has")
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
        self._steps: tuple[tuple[int, ...], ...] = ()
        self._free = 0.0
        """When, in monotonic seconds, the movement that goes on ends: another one begins no sooner."""
        self._spelt = ""
        """The letters typed so far for this question."""
        self._turn = 0
        """Counts questions and ways to black: what was to follow in an earlier turn does not."""

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
        self.chosen, self._spelt = 0, ""
        if "words" not in answer:
            self._show_found(answer)
            return
        self.found = {}
        self.lines = [
            Line(word, meaning if meaning == f"{word} light" else f"{word}: {meaning}")
            for word, meaning in answer["answers"]
        ]
        self._ask_in_words(f"{len(self.answers) + 1}. {answer['words']}")
        self._then = tuple(answer["then"])
        self._steps = tuple(map(tuple, answer["steps"]))
        self._turn += 1
        before = tuple(answer["before"])
        if before == self._wanted:
            self._rise()
        else:
            self._want(before)
            self._soon(self._rise)

    def _show_found(self, found: dict[str, Any]) -> None:
        """The last page: what the slots do, before it is kept or patched."""
        self.found = found
        self._black()
        self._then = ()
        self.lines = [Line("", f"{slot:3}  {kind}") for slot, kind in enumerate(found["kinds"], 1)]
        self._ask_in_words("What the slots do; those with nothing stay at 0. Is it so?")

    def _ask_in_words(self, words: str) -> None:
        self.query_one(".question", Static).update(words)
        self._fit(self.app.size.height)
        self.query_one(Lines).renew()

    def _soon(self, then: Callable[[], None]) -> None:
        """Does something when the slots are where they are to be, if it is still this turn."""
        turn, now = self._turn, monotonic()
        self.set_timer(
            max(self._free - now, 0.0), lambda: then() if self.is_attached and turn == self._turn else None
        )

    def _rise(self) -> None:
        """The slots that are asked about go up."""
        if self._steps:
            self._climb(0)
        else:
            self._want(self._then)

    def _climb(self, step: int) -> None:
        """One step after the other; the line that says it is chosen, so that Enter answers as light comes."""
        self._want(self._steps[step])
        self.chosen = step + 1
        self.query_one(Lines).renew()
        if step + 1 < len(self._steps):
            self._soon(partial(self._climb, step + 1))

    def _want(self, slots: tuple[int, ...]) -> None:
        self._wanted = slots
        self._free = max(self._free, monotonic()) + RISEN_S
        self._hold()

    def _hold(self) -> None:
        if self._wanted:
            lamp = self.lamp
            self.desk.send(RaiseSlots(universe=lamp.universe, address=lamp.address, slots=self._wanted))

    def _black(self) -> None:
        self._turn += 1
        self._wanted = ()
        self._free = monotonic() + RAMP_S
        self.desk.send(RaiseSlots())

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()  # the listing's own keys would end it
        key = next((key for key in self.keys if key.key == event.key), None)
        if key is not None:
            self._answer(key)
        elif event.key in ("up", "down"):
            self._move(1 if event.key == "down" else -1)
        elif event.key == "escape":
            self.dismiss(None)
        elif event.character is not None and event.character.isalnum():
            self._spell(event.character.lower())

    def _spell(self, letter: str) -> None:
        """Chooses the first answer that begins as what was typed, or else with this letter alone."""
        for word in (self._spelt + letter, letter):
            found = [at for at, line in enumerate(self.lines) if line.value.startswith(word)]
            if found:
                self._spelt, self.chosen = word, found[0]
                self.query_one(Lines).renew()
                return

    def _answer(self, key: Key) -> None:
        if key.answer == "back":
            if self.answers:
                self.answers.pop()
                self._ask()
        elif key.answer == "show":
            if self._wanted:
                self._black()
            elif self._then:
                self._rise()
        elif self.found:
            self.dismiss(("found", ""))
        elif self.lines:
            said = self.lines[self.chosen].value
            self.lines = ()
            if said == "flashes":
                self._black()
            self.answers.append(said)
            self._ask()
