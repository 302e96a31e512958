"""The camera as the meter, on Rig: a guided run of stills of a grey card, into readings of a lamp.

Nothing is stored before the last question is answered, and each light is shown only as long as a run asks for
it: whatever ends the screens, the look comes back and the show is as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical

from onecrew.commands.rig import PutFixture
from onecrew.engine.protocol import CARDS
from onecrew.language import names
from onecrew.language.saying import counted
from onecrew.show.show import Fixture, Reading, Show
from onecrew.stills.guided import Phase, as_entry
from onecrew.stills.shotlist import Shot, taken_now
from onecrew.tui.base import BaseScreen
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.dialog import Dialog, Words
from onecrew.tui.dialogs.form import Form
from onecrew.tui.rig.dropping import ask_drop
from onecrew.tui.stills import Stills, shots_of

LOOK_EVERY_S = 0.5
MOST_TRIES = 20
"""So many looks a picture may take until it can be read: it may still be on its way."""
CAUTION = (
    "Lock the camera: exposure, white balance and focus by hand, on a tripod. The grey card is in the middle "
    "of the picture, or where x,y,width,height says; the room is dark. Each lamp goes to full: look away. "
    "Pictures come to the folder by themselves, or are copied into it at the end."
)


@dataclass(frozen=True, slots=True)
class Wish:
    """Which lamp to look like, and where the pictures come to."""

    like: str
    folder: str
    place: str
    curve: str


def ask(screen: BaseScreen, fixture: Fixture) -> None:
    """Ask what is to be matched, and go through the run."""
    show = screen.desk.show
    others = [one.id for one in show.rig.fixtures if one.id != fixture.id] if show is not None else []
    if show is None or not others:
        screen.desk.say(f"{fixture.id} is the only lamp: there is none to look like.", refused=True)
        return
    first = Wish(others[0], CARDS, "", "")

    def begin(wish: Wish) -> None:
        def refused(sentence: str) -> None:
            screen.ask(card_form(show, fixture, wish, f"✗ {sentence}"), begin)

        ByCamera(screen, fixture.id, wish).begin(refused)

    form = card_form(show, fixture, first)
    screen.desk.fetch("tint", lambda _: screen.ask(form, begin), opens=True, fixture=fixture.id)


def card_form(show: Show, fixture: Fixture, typed: Wish, hint: str = CAUTION) -> Form[Wish]:
    """Asks which lamp this one is to look like, and where its pictures come to."""

    def read(texts: dict[str, str]) -> Wish:
        named = texts["look like"].strip(" ,")
        chosen = names.lamps(named, show, "look like") if named else ()
        if len(chosen) != 1 or chosen[0] == fixture.id:
            raise ValueError(f"name one other lamp that {fixture.id} is to look like")
        if not texts["pictures in"]:
            raise ValueError(f"name the folder that the pictures come to; {CARDS} is one beside the show")
        place = "" if texts["card at"] in ("", "middle") else texts["card at"]
        return Wish(chosen[0], texts["pictures in"], place, texts["curve"])

    fields = {
        "look like": typed.like,
        "pictures in": typed.folder,
        "card at": typed.place or "middle",
        "curve": typed.curve,
    }
    return Form(f"Make {fixture.id} look like another lamp on your camera", fields, read, hint)


class ByCamera:
    """One run, from the folder that its pictures come to, to the readings."""

    def __init__(self, screen: BaseScreen, fixture_id: str, wish: Wish) -> None:
        self._screen, self._desk, self._id = screen, screen.desk, fixture_id
        self._question: dict[str, Any] = {"fixture": fixture_id, **asdict(wish)}
        self._pictures = Pictures(self._desk, self._question)
        self._found: dict[str, Any] = {}

    def begin(self, refused: Callable[[str], None]) -> None:
        """Begins; what stands in the way, as a folder that is not there, is said to ``refused``."""

        def look_into(answer: dict[str, Any]) -> None:
            self._pictures.begin(answer)
            self._question |= {"folder": answer["folder"], "before": list(answer["files"])}
            self._desk.fetch("grey-card", plan, opens=True, refused=refused, **self._question)

        def plan(answer: dict[str, Any]) -> None:
            self._take(shots_of(answer), "stills", self._measured)

        self._desk.fetch("pictures", look_into, opens=True, refused=refused, folder=self._question["folder"])

    def _take(self, shots: Sequence[Shot], name: str, then: Callable[[dict[str, Any]], None]) -> None:
        """Take stills, and hand on what they say."""

        def taken(result: list[tuple[Shot, str]] | None) -> None:
            if not result and self._found:  # the check was left: what was found before it is there
                self._measured(self._found)
                return
            if not result:
                self._leave()
                return
            self._question[name] = [as_entry(shot, at) for shot, at in result]
            if missing := sum(not shot.file for shot, _ in result):
                self._wait_for(missing, then)
            else:
                self._work_out(then, lambda sentence: self._desk.say(sentence, refused=True))

        stills = CardStills(self._desk, tuple(shots), self._pictures, self._id)
        self._screen.app.push_screen(stills, taken)

    def _wait_for(self, missing: int, then: Callable[[dict[str, Any]], None], why: str = "") -> None:
        """Until the pictures of stills that a key took are copied."""
        choices = (Choice("y", "They are there", "Which is which is found by their times.", "there"),)
        folder = self._question["folder"]
        question = f"The light is back. Copy the pictures of {counted(missing, 'still')} into {folder}."

        def take(answer: str | None) -> None:
            if answer is None:
                self._ask_drop(lambda: self._wait_for(missing, then, why))
                return
            self._work_out(then, lambda sentence: self._wait_for(missing, then, sentence))

        self._screen.app.push_screen(Choose(question, choices, why), take)

    def _work_out(self, then: Callable[[dict[str, Any]], None], refused: Callable[[str], None]) -> None:
        """Have the engine read the stills; a key pressed meanwhile is for neither Rig nor the answer."""
        working = Working(self._id)

        def over(found: dict[str, Any] | str | None) -> None:
            if found is None:
                self._leave()
            elif isinstance(found, str):
                refused(found)
            else:
                then(found)

        self._screen.app.push_screen(working, over)
        self._desk.fetch("grey-card", working.have, refused=working.have, **self._question)

    def _measured(self, answer: dict[str, Any]) -> None:
        """Say what the stills found, and go on to the closing check where there is something to store."""
        self._found = answer
        lines = "\n".join(answer["lines"])
        if not answer["readings"]:
            choices = (Choice("y", "All right", f"{self._id} stays as it was.", ""),)
            self._screen.app.push_screen(Choose(f"{self._id}: what was found", choices, lines))
            return
        self._question |= {"stills": answer["taken"], "readings": answer["readings"]}
        shots = shots_of(answer)
        check = Choice("c", "Closing check", f"{len(shots)} stills of whites in between.", "check")
        store = Choice("s", "Store without it", self._what_is_stored, "store")
        ways: tuple[Choice, ...] = (check, store) if shots else (store,)

        def take(chosen: str) -> None:
            if chosen == "check":
                self._take(shots, "closing", self._checked)
            else:
                self._store()

        self._ask(f"{self._id}: what was found", ways, lines, take)

    def _checked(self, answer: dict[str, Any]) -> None:
        self._found = {**self._found, "readings": answer["readings"]}
        store = Choice("s", "Store them", self._what_is_stored, "store")
        leave = Choice("n", "Leave it", f"{self._id} stays as it was.", "leave")
        choices = (leave, store) if answer["worse"] else (store, leave)

        def take(chosen: str) -> None:
            if chosen == "store":
                self._store()
            else:
                self._leave()

        self._ask(f"{self._id}: the closing check", choices, "\n".join(answer["lines"]), take)

    def _ask(
        self, question: str, choices: tuple[Choice, ...], lines: str, take: Callable[[str], None]
    ) -> None:
        def answered(chosen: str | None) -> None:
            if chosen is None:
                self._ask_drop(lambda: self._ask(question, choices, lines, take))
            else:
                take(chosen)

        self._screen.app.push_screen(Choose(question, choices, lines), answered)

    @property
    def _what_is_stored(self) -> str:
        return f"{counted(len(self._found['readings']), 'reading')} in {self._id}; undo takes them back."

    def _store(self) -> None:
        show = self._desk.show
        present = show.fixture(self._id) if show is not None else None
        if present is None:
            self._desk.say(f"{self._id} is not there any more.", refused=True)
            return
        readings = tuple(Reading.model_validate(one) for one in self._found["readings"])
        stored = counted(len(readings), "reading")
        said = f"{stored} stored in {self._id}: u takes that back."
        self._desk.send(PutFixture(fixture=present.model_copy(update={"calibration": readings})), said)

    def _ask_drop(self, go_on: Callable[[], None]) -> None:
        ask_drop(self._screen.app, self._id, self._leave, go_on)

    def _leave(self) -> None:
        self._desk.say(f"{self._id} is as it was.")


class Working(Dialog[dict[str, Any] | str]):
    """Stands while the stills are read; the answer is what they say, or in a sentence why they do not."""

    DEFAULT_CSS = "Working > Vertical { width: 62; padding: 1 2; }"
    AUTO_FOCUS = ""

    def __init__(self, lamp: str) -> None:
        super().__init__()
        self._lamp = lamp
        self._found: dict[str, Any] | str | None = None

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Words(f"{self._lamp}: the stills are being read…", classes="question")
            yield Words("What they say stands here in a moment. Esc ends, and asks first.", classes="hint")

    def clicked(self, name: str) -> None:
        """One click too many after the last still runs no cue."""

    def have(self, found: dict[str, Any] | str) -> None:
        self._found = found
        if self.app.screen is self:  # under the question of Escape it is current, too
            self.dismiss(found)

    def on_screen_resume(self) -> None:
        """The question of Escape, which stood over it, is gone."""
        if self._found is not None:
            self.dismiss(self._found)

    def action_go_back(self) -> None:
        ask_drop(self.app, self._lamp, partial(self.dismiss, None))


class Pictures:
    """What comes to a folder while a run goes on."""

    def __init__(self, desk: Desk, question: dict[str, Any]) -> None:
        self._desk, self._question = desk, question
        self._known: set[str] = set()
        """Names without their endings: a raw file and a JPEG of one name are one still."""
        self._files: dict[str, Any] = {}
        self._tries: dict[str, int] = {}
        self._asked = False

    def begin(self, answer: dict[str, Any]) -> None:
        """What lies there now does not count."""
        self._known |= {_stem(name) for name in answer["files"]}

    def pass_over(self) -> None:
        """Let what lies there by now count for no light that comes."""
        self._desk.fetch("pictures", self.begin, quiet=True, folder=self._question["folder"])

    def look(self, then: Callable[[str, dict[str, Any]], bool]) -> None:
        """Look for a picture that is whole; ``then`` has its name and what the card is like in it, and says
        whether it was wanted."""
        if self._asked:
            return
        self._asked = True

        def listed(answer: dict[str, Any]) -> None:
            files = answer["files"]
            whole = [
                name
                for name in files
                if _stem(name) not in self._known and self._files.get(name) == files[name]
            ]
            self._files = files
            if not whole:
                self._asked = False
                return
            name = min(whole, key=lambda one: self._tries.get(one, 0))  # one that is no picture holds up none

            def read(card: dict[str, Any]) -> None:
                def listed_again(answer: dict[str, Any]) -> None:
                    self._asked = False
                    if then(name, card):
                        self.begin(answer)  # a second picture of this light is not taken for the next

                self._desk.fetch("pictures", listed_again, refused=away, folder=self._question["folder"])

            def refused(sentence: str) -> None:
                self._asked = False
                self._tries[name] = self._tries.get(name, 0) + 1
                if self._tries[name] >= MOST_TRIES:
                    self._known.add(_stem(name))
                    self._desk.say(sentence, refused=True)

            self._desk.fetch("grey-card", read, refused=refused, look=name, **self._question)

        def away(_: str) -> None:
            self._asked = False

        self._desk.fetch("pictures", listed, refused=away, folder=self._question["folder"])


def _stem(name: str) -> str:
    return name.rpartition(".")[0] or name


class CardStills(Stills):
    """The run of a card: a still is taken when its picture comes, or by a key.

    From the first still that a key takes on, pictures that come do not count, since one may be late and then
    be taken for the next.
    """

    NAME = "GREY CARD"
    HELP = "A still is taken when its picture comes, or by PgDn or Space"

    def __init__(self, desk: Desk, shots: tuple[Shot, ...], pictures: Pictures, lamp: str) -> None:
        super().__init__(desk, shots, None)
        self._lamp = lamp
        self.run = replace(self.run, by_picture=True)
        self._pictures = pictures
        self._looked_at = desk.clock()

    def press(self, key: str) -> None:
        if key == "stop":
            if self.run.at > 0:
                ask_drop(self.app, self._lamp, partial(self.dismiss, None))
            else:
                self.dismiss(None)
            return
        before = self.run
        super().press(key)
        if self.run.since != before.since:
            self._pictures.pass_over()
        if key == "next" and self.run.at != before.at:
            self.run = replace(self.run, by_picture=False)

    def look(self) -> None:
        super().look()
        now, since = self.desk.clock(), self.run.since
        if not self.run.by_picture or self.run.phase(now) is not Phase.PICTURE:
            return
        if now < self._looked_at + LOOK_EVERY_S:
            return
        self._looked_at = now

        def arrived(file: str, card: dict[str, Any]) -> bool:
            if not self.is_attached or self.run.since != since or not self.run.by_picture:
                return False
            seen = card["clipped"], self.desk.clock(), taken_now(), card["light"]
            self.run = self.run.arrived(file, *seen)
            self.follow()
            return True

        self._pictures.look(arrived)
