"""The Rig screen: a whole patch without leaving the keyboard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.app import ComposeResult

from controller.documents.commands import (
    Identify,
    PutFixture,
    RemoveFixture,
    Rename,
    SetCamera,
    SetOutput,
)
from controller.documents.show import Camera, Fixture, Modifier, Place, Show
from tui import look
from tui.actions import Action
from tui.canvas import Canvas, Drawn
from tui.dialogs.ask import Ask
from tui.dialogs.choose import Choice, Choose
from tui.dialogs.form import Form
from tui.face import Face
from tui.plan.drawing import draw_plan, things
from tui.rig import panes, patching, wishes
from tui.rig.addresses import Kind, kinds_of
from tui.rig.finding import FindKind
from tui.rig.keys import RIG

if TYPE_CHECKING:
    from textual.timer import Timer

LOOK_AROUND_S = 2.0


class RigBody(Drawn):
    """Patch, map, outputs, sources."""

    def draw(self, canvas: Canvas) -> None:
        screen = cast("Rig", self.screen)
        show, snapshot = screen.desk.show, screen.desk.snapshot
        if show is None:
            canvas.put(1, 1, "Waiting for the engine…", look.STRONG)
            return
        width, height = canvas.width, canvas.height
        outputs = snapshot.outputs if snapshot is not None else ()
        fixtures = show.rig.fixtures
        screen.cursor = max(min(screen.cursor, len(fixtures) - 1), 0)
        wide = width >= 130
        left = 72 if wide else width
        mapped = panes.map_rows(show, screen.kinds, screen.universe(), left)
        net = 0 if wide else min(max(len(outputs), 1), 3) + 4 if height >= 19 else 2
        listed = min(len(fixtures), max(height - 2 - mapped - net, 2))
        if fixtures:
            top = min(max(screen.cursor - listed + 1, 0), len(fixtures) - listed)
            part = canvas.part(0, 0, width, listed + 1)
            panes.draw_patch(part, show, snapshot, screen.kinds, screen.cursor, top)
        else:
            canvas.put(1, 0, "No lamps yet: a adds the first.", look.STRONG)
        y = listed + 1
        canvas.rule(y)
        if listed < len(fixtures):
            canvas.put_right(y, f" {len(fixtures) - listed} more lamps, ↑ ↓ ", look.LABEL, margin=2)
        y += 1
        panes.draw_map(canvas.part(0, y, left, mapped), show, screen.kinds, screen.universe(), screen.cursor)
        if wide:
            right = canvas.part(74, y, width - 74, height - y)
            panes.draw_outputs(right.part(0, 0, right.width, len(outputs) + 2), outputs)
            panes.draw_sources(right.part(0, len(outputs) + 3, right.width, 12), show, screen.sources)
        y += mapped + 1 if height - y - mapped > net else mapped
        if fixtures and height - y - net >= 7:
            fixture = fixtures[screen.cursor]
            light = snapshot.lights.get(fixture.id) if snapshot is not None else None
            panes.draw_one(canvas.part(0, y, left, 6), fixture, light, screen.kinds)
            y += 7
            if wide and height - y >= 14:
                draw_plan(canvas.part(0, y, width, height - y), show, things(show), screen.cursor, {})
        if not wide:
            shown = max(min(len(outputs), height - y - 3), 1) + 1
            panes.draw_outputs(canvas.part(0, y, width, shown), outputs)
            panes.draw_sources(canvas.part(0, y + shown, width, height - y - shown), show, screen.sources)


class Rig(Face):
    """Fixtures, addresses, outputs."""

    TITLE = "Rig"
    ACTIONS: ClassVar[tuple[Action, ...]] = RIG

    def __init__(self) -> None:
        super().__init__()
        self.cursor = 0
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

    def fixture(self) -> Fixture | None:
        """The lamp under the cursor."""
        fixtures = self.show.rig.fixtures
        if not fixtures:
            self.desk.say("No lamps yet: a adds the first.", refused=True)
            return None
        self.cursor = min(self.cursor, len(fixtures) - 1)
        return fixtures[self.cursor]

    def universe(self) -> int:
        fixtures = self.show.rig.fixtures
        return fixtures[self.cursor].universe if self.cursor < len(fixtures) else 1

    def move(self, step: int) -> None:
        count = len(self.show.rig.fixtures)
        if count:
            self.cursor = (self.cursor + step) % count
            self.renew()

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
        universe = self.universe()

        def offer(answer: dict[str, Any]) -> None:
            form = patching.new_form(self.show, self.kinds, kind, universe, answer.get("address"))
            self.app.push_screen(form, self._patched)

        self.desk.fetch("next-free", offer, universe=universe, width=kind.width)

    def _patched(self, fixture: Fixture | None) -> None:
        if fixture is not None:
            self.cursor = len(self.show.rig.fixtures)
            self.desk.send(PutFixture(fixture=fixture), f"{fixture.id} is patched. i lets it breathe.")

    def edit(self) -> None:
        fixture = self.fixture()
        if fixture is not None:
            self.app.push_screen(patching.edit_form(self.show, self.kinds, fixture), self._edited)

    def _edited(self, fixture: Fixture | None) -> None:
        if fixture is not None:
            self.desk.send(PutFixture(fixture=fixture), f"{fixture.id} is changed.")

    def take_out(self) -> None:
        fixture = self.fixture()
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

    def identify(self) -> None:
        fixture, snapshot = self.fixture(), self.desk.snapshot
        if fixture is not None and snapshot is not None:
            on = fixture.id in snapshot.identify
            self.desk.send(Identify() if on else Identify(fixtures=(fixture.id,)))

    # ── what stands around it ───────────────────────────────────────────────────────────────────

    def ask_modifiers(self) -> None:
        fixture = self.fixture()
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
        fixture = self.fixture()
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
