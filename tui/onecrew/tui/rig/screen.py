"""The Rig screen: a whole patch without leaving the keyboard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult

from onecrew.commands.models import (
    PutFixture,
    RemoveFixture,
    Rename,
    SetCamera,
    SetOutput,
    SetRemote,
)
from onecrew.show.show import Camera, Fixture, Modifier, Place, Remote, Show
from onecrew.tui.actions import Action
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.form import Form
from onecrew.tui.lamps import LampFace
from onecrew.tui.rig import patching, wishes
from onecrew.tui.rig.addresses import Kind, kinds_of
from onecrew.tui.rig.body import RigBody
from onecrew.tui.rig.finding import FindKind
from onecrew.tui.rig.keys import RIG
from onecrew.tui.rig.phone import PhoneCode, remotes_form

if TYPE_CHECKING:
    from textual.timer import Timer

LOOK_AROUND_S = 2.0


class Rig(LampFace):
    """Fixtures, addresses, outputs."""

    TITLE = "Rig"
    ACTIONS: ClassVar[tuple[Action, ...]] = RIG

    def __init__(self) -> None:
        super().__init__()
        self.kinds: tuple[Kind, ...] = ()
        self.sources: dict[str, Any] | None = None
        """What the engine said of the network; None until it has."""
        self._timer: Timer | None = None

    def body(self) -> ComposeResult:
        yield RigBody()

    # ── what is known ───────────────────────────────────────────────────────────────────────────

    def on_mount(self) -> None:
        self.desk.fetch("profiles", self._have_profiles)
        self._timer = self.set_interval(LOOK_AROUND_S, self._look_around)
        self._look_around()

    def _look_around(self) -> None:
        if self.is_current and self.desk.lost is None:
            self.desk.fetch("sources", self._have_sources, quiet=True)

    def _have_profiles(self, answer: dict[str, Any]) -> None:
        self.kinds = kinds_of(answer)
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
        if not self.kinds:
            self.desk.fetch("profiles", self._have_profiles)
            self.desk.say("The profiles are not here yet: press a again in a moment.", refused=True)
            return
        self.app.push_screen(FindKind(self.kinds), self._kind_found)

    def _kind_found(self, kind: Kind | None) -> None:
        if kind is None:
            return
        self.app.push_screen(patching.new_form(self.show, self.kinds, kind, self.universe()), self._patched)

    def _patched(self, fixture: Fixture | None) -> None:
        if fixture is not None:
            self.desk.chosen.id = fixture.id
            self.desk.send(PutFixture(fixture=fixture), f"{fixture.id} is patched. i lets it breathe.")

    def edit(self) -> None:
        fixture = self.lead()
        if fixture is not None:
            self.app.push_screen(patching.edit_form(self.show, self.kinds, fixture), self._edited)

    def _edited(self, fixture: Fixture | None) -> None:
        if fixture is not None:
            self.desk.send(PutFixture(fixture=fixture), f"{fixture.id} is changed.")

    def take_out(self) -> None:
        fixture = self.lead()
        if fixture is None:
            return
        used = [cue.number for cue in self.show.cues if fixture.id in cue.look]
        if not used:
            self._take_out(fixture.id)
            return
        question = f"Take {fixture.id} out? It goes from the looks of cue {', '.join(used)} too."
        choices = (Choice("y", "Yes, take it out", "Undo brings it back, looks and all.", fixture.id),)
        self.app.push_screen(Choose(question, choices), self._take_out)

    def _take_out(self, fixture_id: str | None) -> None:
        if fixture_id is not None:
            self.desk.send(RemoveFixture(id=fixture_id), f"{fixture_id} is out. u brings it back.")

    # ── what stands around it ───────────────────────────────────────────────────────────────────

    def ask_modifiers(self) -> None:
        fixture = self.lead()
        if fixture is not None:

            def take(items: tuple[Modifier, ...] | None, lamp: Fixture = fixture) -> None:
                if items is not None:
                    self._edited(lamp.model_copy(update={"modifiers": items}))

            hint = "Kind, stops it takes, a note; commas between: diffusion 1, grid, gel 0.5 straw"
            text = wishes.modifiers_text(fixture.modifiers)
            self.app.push_screen(
                Ask(f"What stands before {fixture.id}?", hint, wishes.read_modifiers, text), take
            )

    def ask_place(self) -> None:
        fixture = self.lead()
        if fixture is not None:

            def read(text: str) -> tuple[Place | None]:
                return (wishes.read_place(text),)

            def take(place: tuple[Place | None] | None, lamp: Fixture = fixture) -> None:
                if place is not None:
                    self._edited(lamp.model_copy(update={"place": place[0]}))

            hint = "Metres from the left and the lower wall, height, aim in degrees: 0.6 3.4 2.1 135"
            text = wishes.place_text(fixture.place)
            self.app.push_screen(Ask(f"Where does {fixture.id} stand?", hint, read, text), take)

    # ── outputs, camera, name ───────────────────────────────────────────────────────────────────

    def ask_destinations(self) -> None:
        universe, output = self.universe(), self.show.output

        def take(to: tuple[str, ...] | None) -> None:
            if to is not None:
                words = ", ".join(to) or "multicast"
                changed = wishes.with_destinations(output, universe, to)
                self.desk.send(SetOutput(output=changed), f"Universe {universe} goes to {words}.")

        now = output.sacn.universes.get(str(universe))
        hint = (
            "Addresses of the nodes, maybe with a port; empty for multicast. On Wi-Fi, addresses are better."
        )
        text = " ".join(now.to) if now is not None else ""
        self.app.push_screen(
            Ask(f"Where does universe {universe} go?", hint, wishes.read_destinations, text), take
        )

    def ask_priority(self) -> None:
        output = self.show.output
        sacn = output.sacn

        def take(wish: tuple[int, bool] | None) -> None:
            if wish is not None:
                changed = sacn.model_copy(update={"priority": wish[0], "steady": wish[1]})
                self.desk.send(SetOutput(output=output.model_copy(update={"sacn": changed})))

        text = f"{sacn.priority}{' steady' if sacn.steady else ''}"
        hint = "0 to 200; steady sends at the full rate even at rest, for lossy Wi-Fi: 100 steady"
        self.app.push_screen(Ask("Which sACN priority?", hint, wishes.read_priority, text), take)

    def ask_remotes(self) -> None:
        def take(remote: Remote | None) -> None:
            if remote is not None:
                self.desk.send(SetRemote(remote=remote), "The remotes are kept with the show.")

        self.app.push_screen(remotes_form(self.show.remote), take)

    def show_phone_code(self) -> None:
        def have(answer: dict[str, Any]) -> None:
            self.app.push_screen(PhoneCode(answer))

        self.desk.fetch("pair", have)

    def ask_camera(self) -> None:
        camera = self.show.camera

        def take(changed: Camera | None) -> None:
            if changed is not None:
                self.desk.send(SetCamera(camera=changed), "The camera settings are kept with the show.")

        form = Form(
            "The camera", wishes.camera_texts(camera), lambda texts: wishes.read_camera(texts, camera)
        )
        self.app.push_screen(form, take)

    def ask_name(self) -> None:
        def read(text: str) -> str:
            if not 1 <= len(text) <= 80:
                raise ValueError("a show has a name of 1 to 80 characters")
            return text

        def take(name: str | None) -> None:
            if name is not None:
                self.desk.send(Rename(name=name))

        self.app.push_screen(Ask("What is the show called?", "", read, self.show.name), take)
