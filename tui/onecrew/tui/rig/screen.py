"""The Rig screen: patch, outputs, sources, remotes and camera."""

from __future__ import annotations

from collections.abc import Callable, Sized
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult

from onecrew.commands.network import SetOutput, SetRemote
from onecrew.commands.rig import PutFixture, RemoveFixture
from onecrew.commands.scenes import RenameFixture
from onecrew.commands.session import Rename
from onecrew.language import names
from onecrew.language.saying import counted
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Fixture, Output, Remote, Show
from onecrew.tui.actions import Action
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.dialog import Value
from onecrew.tui.dialogs.form import Form, Of, following, gone
from onecrew.tui.lamps import LampScreen
from onecrew.tui.rig import first_lamp as guide
from onecrew.tui.rig import grey_card, patching, typed, who
from onecrew.tui.rig.addresses import Kind, kind_called, kinds_of
from onecrew.tui.rig.calibrating import Calibrating
from onecrew.tui.rig.finding import FindKind
from onecrew.tui.rig.keys import RIG
from onecrew.tui.rig.layout import RigBody
from onecrew.tui.rig.phone import PhoneCode, remotes_form
from onecrew.tui.rig.probing import Probing, Unknown, probe_form

if TYPE_CHECKING:
    from textual.timer import Timer

LOOK_AROUND_S = 2.0
WAYS = (
    Choice("w", "Whites", "A meter reads one white after the other.", "whites"),
    Choice("e", "Emitters", "A meter reads each emitter alone.", "emitters"),
    Choice("c", "Camera", "Stills of a grey card: look like another lamp.", "camera"),
)
DARK = (
    "The lamp stayed dark. Is it on, and set to this universe, address and mode? Where its first slot is no "
    "light and no dimmer, probe it again and leave that out. Where a slot chooses a mode, set a mode "
    "without one at the lamp's own menu, and probe it again."
)


class Rig(LampScreen):
    """Fixtures, addresses, outputs."""

    TITLE = "Rig"
    TOPIC = "unknown-lamp"
    ACTIONS: ClassVar[tuple[Action, ...]] = RIG

    def __init__(self) -> None:
        super().__init__()
        self.kinds: tuple[Kind, ...] = ()
        self.broken: dict[str, str] = {}
        """By the name of a profile file that cannot be used, why."""
        self.sources: dict[str, Any] | None = None
        """What the engine said of the network; None until it has."""
        self._timer: Timer | None = None

    def body(self) -> ComposeResult:
        yield RigBody(self)

    # ── what is known ───────────────────────────────────────────────────────────────────────────

    def on_mount(self) -> None:
        self.desk.fetch("profiles", self._have_profiles)
        self._timer = self.set_interval(LOOK_AROUND_S, self._look_around)
        self._look_around()

    def _look_around(self) -> None:
        if self.is_current and self.desk.lost is None:
            self.desk.fetch("sources", self._have_sources, quiet=True)

    def _have_profiles(self, answer: dict[str, Any]) -> None:
        self.kinds, self.broken = kinds_of(answer), answer.get("broken", self.broken)
        if isinstance(self.app.screen, FindKind):
            self.app.screen.have(self.kinds, self.broken)
        self.renew()

    def _have_sources(self, answer: dict[str, Any]) -> None:
        if answer != self.sources:
            self.sources = answer
            self.renew()

    @property
    def show(self) -> Show:
        return self.desk.show or Show(name="untitled")

    def universe(self) -> int:
        fixture = self.chosen()
        return fixture.universe if fixture is not None else 1

    # ── patching ────────────────────────────────────────────────────────────────────────────────

    def add(self) -> None:
        self._profiles_again()  # one may have been written meanwhile
        self.ask(FindKind(self.kinds, self.broken), self._kind_found)

    def _kind_found(self, kind: Kind) -> None:
        self.ask(patching.new_form(lambda: self.show, self.kinds, kind, self.universe()), self._patched)

    def _profiles_again(self, then: Callable[[], None] | None = None) -> None:
        """Learn the profiles that are new."""

        def have(answer: dict[str, Any]) -> None:
            self._have_profiles(answer)
            if then is not None:
                then()

        self.desk.fetch("profiles", have, again=True)

    # ── unknown lamps ───────────────────────────────────────────────────────────────────────────

    def probe(self) -> None:
        self.ask(probe_form(self.show, self.kinds, self.universe()), self._probe)

    def _probe(self, lamp: Unknown) -> None:
        probing = Probing(self.desk, lamp)

        def take(answer: tuple[str, str] | None) -> None:
            if answer is None:
                self.desk.say("Probing was ended; nothing was written, and the lamp is black.")
            else:
                self._probed(lamp, probing)

        self.app.push_screen(probing, take)

    def _probed(self, lamp: Unknown, probing: Probing) -> None:
        """Patch the lamp as a kind that has its layout, or keep a profile of it first."""

        def kept(_: dict[str, Any]) -> None:
            self.desk.say(f"Written as profile {lamp.name}; its note says what is unknown.")
            self._profiles_again(lambda: self._patch_at(lamp, lamp.name, "probed"))

        fits = probing.found["fits"]
        if not probing.found["usable"]:
            self.desk.say(DARK, refused=True)
        elif fits:
            self.desk.say(f"This is the layout of {fits[0]['name']}, {fits[0]['mode']}.")
            self._patch_at(lamp, fits[0]["profile"], fits[0]["mode"])
        else:
            self.desk.fetch(
                "probe", kept, keep=lamp.name, width=lamp.width, skip=lamp.skip, answers=probing.answers
            )

    def _patch_at(self, lamp: Unknown, profile: str, mode: str) -> None:
        kind = kind_called(self.kinds, profile, mode)
        if kind is not None:
            form = patching.new_form(lambda: self.show, self.kinds, kind, lamp.universe, lamp.address)
            self.ask(form, self._patched)

    def calibrate(self) -> None:
        fixture = self.lead()
        if fixture is None:
            return

        def by(way: str) -> None:
            if way == "camera":
                grey_card.ask(self, fixture)
            else:
                self._calibrate_by_meter(fixture, emitters=way == "emitters")

        self.ask(Choose(f"Calibrate {fixture.id}", WAYS), by)

    def _calibrate_by_meter(self, fixture: Fixture, *, emitters: bool) -> None:
        dialog = Calibrating(self.desk, fixture, emitters=emitters)

        def take(calibrated: Fixture | None) -> None:
            if calibrated is None:
                self.desk.say(dialog.refused or f"{fixture.id} is as it was.", refused=bool(dialog.refused))
                return
            present = self.show.fixture(fixture.id)
            if present is None:
                self.desk.say(gone(fixture.id), refused=True)
            else:
                read: dict[str, Sized] = {"calibration": calibrated.calibration}
                if emitters:
                    read["emitter_readings"] = calibrated.emitter_readings
                stored = counted(sum(map(len, read.values())), "reading")
                said = f"{stored} stored in {fixture.id}: u takes that back."
                measured = present.model_copy(update=read)
                self.desk.send(PutFixture(fixture=measured), said)

        self.app.push_screen(dialog, take)

    def import_gdtf(self) -> None:
        def have(answer: dict[str, Any]) -> None:
            head = "Imported" if answer["done"] else "Not everything could be imported"
            who.tell(self, head, answer["lines"])
            self._profiles_again()

        def take(path: str) -> None:
            if path:
                self.desk.fetch("import", have, path=path)

        hint = "The path of a GDTF file, or of a folder with such files."
        self.ask(Ask("Import which file?", hint, str), take)

    def who_is_who(self) -> None:
        if self.fixtures():
            who.walk(self, self.fixtures(), self.kinds)

    def _patched(self, fixture: Fixture) -> None:
        first = self.desk.first_run and not self.fixtures()
        self.desk.cursor.id = fixture.id
        self.desk.send(
            PutFixture(fixture=fixture), f"{fixture.id} patched: i pulses it, to see which lamp it is."
        )
        if first:
            guide.ask(self, fixture)

    def edit(self) -> None:
        fixture = self.lead()
        if fixture is not None:
            name = fixture.id

            def now() -> tuple[Show, Fixture] | None:
                show = self.desk.show
                lamp = show.fixture(name) if show is not None else None
                return (show, lamp) if show is not None and lamp is not None else None

            def form_of(found: tuple[Show, Fixture]) -> Form[Fixture]:
                return patching.edit_form(found[0], self.kinds, found[1])

            self.ask_of_scene(following(now, form_of, gone(name)), self._edited)

    def _edited(self, fixture: Fixture) -> None:
        self.desk.send(PutFixture(fixture=fixture), f"{fixture.id} changed.")

    def rename_lamp(self) -> None:
        fixture = self.lead()
        if fixture is None:
            return

        def read(text: str) -> str:
            name = names.fixture_id(text)
            if name != fixture.id and self.show.fixture(name) is not None:
                raise ValueError(f"{name} is taken: give it another name")
            return name

        def take(name: str) -> None:
            if name != fixture.id:
                self.desk.cursor.id = name
                self.desk.send(RenameFixture(id=fixture.id, to=name), f"{fixture.id} is {name} now.")

        hint = "Looks, scenes and sheets follow; undo takes it back."
        self.ask(Ask(f"New name for {fixture.id}", hint, read, fixture.id), take)

    def delete_lamp(self) -> None:
        fixture = self.lead()
        if fixture is None:
            return
        used = [cue.number for scene in scenes_of(self.show) for cue in scene.cues if fixture.id in cue.look]
        if not used:
            self._delete_lamp(fixture.id)
            return
        question = f"Delete {fixture.id}? It is in cue {', '.join(used)}."
        choices = (
            Choice("y", "Yes, delete it", "Also from those cues. Undo brings it all back.", fixture.id),
        )
        self.ask(Choose(question, choices), self._delete_lamp)

    def _delete_lamp(self, fixture_id: str) -> None:
        self.desk.send(RemoveFixture(id=fixture_id), f"{fixture_id} deleted: u brings it back.")

    # ── outputs, camera, name ───────────────────────────────────────────────────────────────────

    def _following(self, part: Callable[[Show], Of], form_of: Callable[[Of], Form[Value]]) -> Form[Value]:
        return following(lambda: part(self.show), form_of, "there is no show any more")

    def ask_output(self) -> None:
        universe = self.universe()

        def take(output: Output) -> None:
            to = typed.said_of(output, universe)
            self.desk.send(SetOutput(output=output), f"Universe {universe} is sent to {to}.")

        form_of = partial(typed.output_form, universe=universe)
        self.ask(self._following(lambda show: show.output, form_of), take)

    def ask_remotes(self) -> None:
        def take(remote: Remote) -> None:
            self.desk.send(SetRemote(remote=remote), "Remotes saved with the show.")

        self.ask(self._following(lambda show: show.remote, remotes_form), take)

    def show_phone_code(self) -> None:
        def have(answer: dict[str, Any]) -> None:
            self.app.push_screen(PhoneCode(answer))

        self.desk.fetch("pair", have, opens=True)

    def ask_name(self) -> None:
        def read(text: str) -> str:
            if not 1 <= len(text) <= 80:
                raise ValueError("a show has a name of 1 to 80 characters")
            return text

        def take(name: str) -> None:
            self.desk.send(Rename(name=name))

        self.ask(Ask("Name of the show", "", read, self.show.name), take)
