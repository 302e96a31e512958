"""A calibration on Rig: the lamp alone at one light after the other, and what a meter reads of each is typed.

The lights are whites, or each emitter by itself.

The lamp is lit only as long as this asks for it: whatever ends the screens, the engine gives the light back.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from onecrew.commands.light import AGAIN_S, RaiseSlots
from onecrew.commands.stills import ShowStill
from onecrew.language.saying import counted
from onecrew.show.show import Fixture
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.dialog import Dialog, Words
from onecrew.tui.dialogs.field import Field
from onecrew.tui.rig.dropping import ask_drop

SETTLED_S = 1.0
"""When a light that was asked for is sure to be there."""
OPENING = (
    "The other lamps are dark meanwhile, this one goes to full at each white: look away from it. Let it warm "
    "up, and leave the meter where it is."
)
BY_EMITTERS = (
    "The other lamps are dark meanwhile; each emitter of this one is lit alone, at full and darker: look "
    "away from it. The meter is dark without the lamp, or what it reads holds other light, too."
)
CHECK = "Closing check: lights that were not read, each as the lamp was and as it is corrected."
WORDS = "As 3150K -0.002 812lx, or x=.4301 y=.4012, light in any unit. Also: skip, back, again, done."
SPOT_WORDS = "As .6902 .3081 812lx: x, y, light in any unit. Also: skip, back, again, done."
MOVED = "Something else changed the lamp, so nothing was taken. It is lit again: read it now."
END = "Esc ends, and asks before it drops what was read; the light comes back."
NOTHING = "Type what the meter says, or skip."


class Calibrating(Dialog[Fixture]):
    """Light after light; the answer is the lamp with its readings, or None where it was ended."""

    DEFAULT_CSS = """
    Calibrating > Vertical { width: 74; padding: 1 2; }
    Calibrating .question { margin-bottom: 0; }
    Calibrating .fault { color: $error; height: auto; }
    Calibrating Input { margin: 1 0; }
    """

    def __init__(self, desk: Desk, fixture: Fixture, *, emitters: bool = False) -> None:
        super().__init__()
        self.desk, self.fixture, self.emitters = desk, fixture, emitters
        self._opening = BY_EMITTERS if emitters else OPENING
        self.typed: list[str] = []
        self.check: list[str] = []
        self.asked: dict[str, Any] = {}
        """What the engine asks now."""
        self.refused = ""
        """Why it could not begin."""
        self._shown: ShowStill | None = None
        self._since = 0.0
        self._waits = False

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Words("Asking the engine…", classes="question")
            yield Words(self._opening, classes="hint")
            yield Field()
            yield Words("", classes="fault")
            yield Words(WORDS, classes="hint words")
            yield Words(END, classes="hint")

    def on_mount(self) -> None:
        self.query_one(Input).focus()
        self.set_interval(AGAIN_S, self.hold)
        self._ask(self.typed, self.check)

    def on_unmount(self) -> None:
        self._dark()

    # ── what is typed ───────────────────────────────────────────────────────────────────────────

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        text = event.value.strip()
        if self._waits or not self.asked:
            return
        if "fixture" in self.asked:
            self._end(text.lower())
        elif not text and not self.asked["was"]:
            self._say(NOTHING)
        elif self.disturbed():
            self.query_one(Input).value = ""
            self._say(MOVED)
            self._show()
        elif self.asked["checks"]:
            self._ask(self.typed, [*self.check, text])
        else:
            self._ask([*self.typed, text], self.check)

    def action_go_back(self) -> None:
        if self.typed and self.asked.get("readings", 1):
            ask_drop(self.app, self.fixture.id, partial(self.dismiss, None))
        else:
            self.dismiss(None)

    def _end(self, text: str) -> None:
        """Store the readings, where they make it worse only after a yes."""
        if self.asked["fixture"] is None:
            self.dismiss(None)
        elif text in ("y", "yes") or (not text and not self.asked["worse"]):
            self.dismiss(Fixture.model_validate(self.asked["fixture"]))
        else:
            self._say("Type yes to store the readings; Esc leaves the lamp as it was.")

    def _ask(self, typed: list[str], check: list[str]) -> None:
        """Hand on what was typed; a line that cannot be read is said, and is as if it had not been typed."""

        def have(answer: dict[str, Any]) -> None:
            self._waits = False
            if self.is_attached:
                self.typed, self.check = typed, check
                self._have(answer)

        def refused(sentence: str) -> None:
            self._waits = False
            if not self.asked:  # it cannot be calibrated at all
                self.refused = sentence
                self.dismiss(None)
            elif self.is_attached:
                self._say(sentence)

        self._waits = True
        lines: dict[str, Any] = {"typed": list(typed), "check": list(check), "emitters": self.emitters}
        self.desk.fetch("calibration", have, refused=refused, fixture=self.fixture.id, **lines)

    def _have(self, answer: dict[str, Any]) -> None:
        before, self.asked = self.asked, answer
        name = self.fixture.id
        self._say(str(answer.get("remark", "")))
        self.query_one(Input).value = ""
        if "fixture" in answer:
            said = answer["said"] if answer["readings"] else ["No reading was taken."]
            key = "yes and Enter" if answer["worse"] else "Enter"
            found = counted(answer["readings"], "reading")
            store = f"{key} stores {found} in {name}." if answer["readings"] else ""
            self.query_one(".question", Static).update(f"{name}: what was found")
            self.query_one(".hint", Static).update("\n".join(line for line in (*said, store) if line))
            self.query_one(".words", Static).update("")
            self._dark()
            return
        was = f" (was {answer['was']}, Enter keeps it)" if answer["was"] else ""
        place = f"{answer['at'] + 1} of {answer['of']}: {answer['name']}{was}"
        self.query_one(".question", Static).update(f"{name}, {place}: what does the meter say?")
        checks = answer["checks"]
        self.query_one(".hint", Static).update(CHECK if checks else self._opening)
        self.query_one(".words", Static).update(SPOT_WORDS if self.emitters and not checks else WORDS)
        if (before.get("at"), before.get("checks")) != (answer["at"], answer["checks"]):
            self._show()

    def _say(self, text: str) -> None:
        fault = self.query_one(".fault", Static)
        fault.update(text)

    # ── the light ───────────────────────────────────────────────────────────────────────────────

    def _show(self) -> None:
        """Light the lamp as it is asked about; under slots that are raised every lamp is out."""
        asked, words = self.asked, f"{self.fixture.id} is measured: {self.asked['name']}"[:120]
        if "light" in asked:
            self._shown = ShowStill(fixture=self.fixture.id, words=words, **asked["light"])
            self.desk.send(RaiseSlots())
        else:
            self._shown = ShowStill(words=words)
        self._since = self.desk.clock()
        self.desk.hush()
        self.desk.send(self._shown)
        self._raise()

    def _dark(self) -> None:
        self._shown = None
        self.desk.send(RaiseSlots())
        self.desk.send(ShowStill(off=True))

    def hold(self) -> None:
        """Ask for the light again while it is there; what took it away is said where it is typed."""
        if self._shown is None or self.desk.lost is not None:
            return
        if self.disturbed():
            told = self.desk.message
            self._say(told[0] if told is not None and told[1] else MOVED)
            return
        self.desk.send(self._shown.model_copy(update={"again": True}))
        self._raise()

    def _raise(self) -> None:
        if "slots" in self.asked:
            lamp, slots = self.fixture, tuple(self.asked["slots"])
            place = {"universe": lamp.universe, "address": lamp.address}
            self.desk.send(RaiseSlots(slots=slots, fixture=lamp.id, **place))

    def disturbed(self) -> bool:
        """Whether something else took the light away since it was asked for."""
        snapshot = self.desk.snapshot
        settled = self.desk.clock() >= self._since + SETTLED_S
        return (
            self._shown is not None and settled and (snapshot is None or snapshot.still != self._shown.words)
        )
