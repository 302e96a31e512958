"""The Plan screen: lamps, set pieces and camera from above, moved and turned with the arrow keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult

from onecrew.commands.command import Command
from onecrew.commands.rig import PutFixture, PutSetPiece, RemoveSetPiece, SetCamera
from onecrew.language.phrases import build
from onecrew.language.places import read_place, write_place
from onecrew.show.show import Place, SetPiece
from onecrew.tui import theme, words
from onecrew.tui.actions import Action, calls
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.form import Form
from onecrew.tui.drawing.canvas import Canvas, Drawn, fit
from onecrew.tui.drawing.plan import Thing, draw_plan, things
from onecrew.tui.everywhere import usual
from onecrew.tui.plan.reading import Reading

if TYPE_CHECKING:
    from textual.timer import Timer

STEP_M = 0.1
TURN_DEG = 15.0
REST_S = 0.5
"""A thing that has not moved for this long is sent: one change of the show, one undo."""

PLAN: tuple[Action, ...] = (
    Action("next-thing", ("tab",), "Tab", "next", "Select the next thing", calls("choose", 1), 1),
    Action("previous-thing", ("shift+tab",), "Shift+Tab", "previous", "Select the previous thing",
           calls("choose", -1)),
    Action("move-up", ("up",), "↑", "move", "Move it 10 cm up the plan", calls("shift", 0.0, STEP_M)),
    Action("move-down", ("down",), "↓", "move", "Move it 10 cm down the plan", calls("shift", 0.0, -STEP_M)),
    Action("move-left", ("left",), "← ↑ ↓ →", "move", "Move it 10 cm to the left",
           calls("shift", -STEP_M, 0.0), 2),
    Action("move-right", ("right",), "→", "move", "Move it 10 cm to the right", calls("shift", STEP_M, 0.0)),
    Action("turn-right", ("shift+right",), "Shift+→", "turn", "Turn it 15° clockwise",
           calls("turn", TURN_DEG), 3),
    Action("turn-left", ("shift+left",), "Shift+←", "turn back", "Turn it 15° anticlockwise",
           calls("turn", -TURN_DEG), 4),
    Action("raise", ("plus",), "+", "higher", "Raise it by 10 cm", calls("lift", STEP_M), 5),
    Action("lower", ("minus",), "-", "lower", "Lower it by 10 cm", calls("lift", -STEP_M), 6),
    Action("add", ("a",), "a", "add", "Add a set piece: flag, reflector, wall, subject",
           calls("ask_piece"), 7),
    Action("edit", ("enter", "e"), "Enter", "edit", "Change a set piece's kind and note",
           calls("edit_piece")),
    Action("forecast", ("y",), "y", "read", "Forecast what a light meter reads at the subject",
           calls("read_light"), 9),
    Action("type-place", ("j",), "j", "place", "Type its place, in metres or feet", calls("ask_at")),
    Action("type-room", ("W",), "Shift+W", "room", "Type the room's size and surfaces", calls("ask_room")),
    Action("delete", ("x", "delete"), "x", "delete", "Delete a set piece", calls("delete_piece"), 8),
    *usual(undo=10),
)  # fmt: skip


class PlanBody(Drawn):
    """The plan, and what is chosen in numbers."""

    def draw(self, canvas: Canvas) -> None:
        screen = cast("Plan", self.screen)
        show = screen.desk.show
        if show is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        found = screen.things()
        side = 28 if canvas.width >= 70 else 0
        plan = canvas.part(0, 0, canvas.width - side, canvas.height - (0 if side else 1))
        draw_plan(plan, show, found, screen.cursor, screen.moved)
        thing = found[screen.cursor]
        if side:
            self._list(canvas.part(canvas.width - side, 0, side, canvas.height), screen, found)
        else:
            canvas.put(
                1, canvas.height - 1, fit(", ".join(screen.lines(thing)), canvas.width - 2), theme.NEXT
            )

    def _list(self, canvas: Canvas, screen: Plan, found: list[Thing]) -> None:
        for y in range(canvas.height):
            canvas.put(0, y, "│", theme.LINE)
        chosen = screen.lines(found[screen.cursor])
        space = canvas.height - len(chosen) - 2
        top = min(max(screen.cursor - space + 1, 0), max(len(found) - space, 0))
        for y, thing in enumerate(found[top : top + space]):
            here = top + y == screen.cursor
            style = theme.NEXT if here else theme.PLAIN if thing.placed else theme.LABEL
            canvas.put(1, y, "▸" if here else " ", theme.NOW)
            canvas.put(3, y, fit(thing.id, 11), style)
            said = thing.said or thing.kind
            canvas.put(15, y, fit(said if thing.placed else "no place yet", 12), theme.LABEL)
        for y, line in enumerate(chosen, canvas.height - len(chosen)):
            style = theme.NEXT if y == canvas.height - len(chosen) else theme.PLAIN
            canvas.put(2, y, fit(line, canvas.width - 3).rstrip(), style)


class Plan(BaseScreen):
    """Lamps, set pieces and camera, moved with the arrow keys."""

    TITLE = "Plan"
    ACTIONS: ClassVar[tuple[Action, ...]] = PLAN

    def __init__(self) -> None:
        super().__init__()
        self.cursor = 0
        self.moved: dict[str, Place] = {}
        """What is being moved and not sent yet, by kind and id."""
        self._rest: Timer | None = None
        self.reading = Reading(self.renew)
        self.reads = False
        """Whether readings are shown: from the first move on, or when asked for."""

    def body(self) -> ComposeResult:
        yield PlanBody()

    def things(self) -> list[Thing]:
        found = things(self.desk.show) if self.desk.show is not None else []
        self.cursor = max(min(self.cursor, len(found) - 1), 0)
        return found

    def thing(self) -> Thing | None:
        found = self.things()
        return found[self.cursor] if found else None

    def place(self, thing: Thing) -> Place:
        return self.moved.get(_key(thing), thing.place)

    def lines(self, thing: Thing) -> list[str]:
        """The thing under the cursor in words and numbers."""
        place = self.place(thing)
        lines = [f"{thing.id}: {thing.said or thing.kind}", *where(place)]
        if place.height_m is not None:
            lines.append(f"height {place.height_m:.1f} m")
        if place.aim_deg is not None:
            lines.append(f"aim {place.aim_deg:.0f}° clockwise")
        show = self.desk.show
        fixture = show.fixture(thing.id) if show is not None and thing.kind == "lamp" else None
        if fixture is not None and fixture.modifiers:
            lines.append(words.modifiers(fixture.modifiers))
        if not thing.placed and _key(thing) not in self.moved:
            lines.append("no place yet: arrows set one")
        if self.reads:
            lines += self.reading.lines(thing.id if thing.kind == "lamp" else None)
        return lines

    # ── moving ──────────────────────────────────────────────────────────────────────────────────

    def choose(self, step: int) -> None:
        self.send_moves()
        found = self.things()
        if found:
            self.cursor = (self.cursor + step) % len(found)
            self.reading.start_over()
            self.renew()

    def _change(self, **fields: float) -> None:
        thing = self.thing()
        if thing is None:
            return
        place = self.place(thing)
        self.moved[_key(thing)] = Place.model_validate({**place.model_dump(), **fields})
        if self._rest is not None:
            self._rest.stop()
        self._rest = self.set_timer(REST_S, self.send_moves)
        self.read_light()

    def shift(self, x_m: float, y_m: float) -> None:
        thing = self.thing()
        if thing is not None:
            place = self.place(thing)
            self._change(x_m=_within(place.x_m + x_m, -50, 50), y_m=_within(place.y_m + y_m, -50, 50))

    def turn(self, degrees: float) -> None:
        thing = self.thing()
        if thing is not None:
            self._change(aim_deg=((self.place(thing).aim_deg or 0.0) + degrees) % 360)

    def lift(self, step: float) -> None:
        thing = self.thing()
        if thing is not None:
            before = self.place(thing).height_m
            self._change(height_m=_within((before if before is not None else 1.5) + step, 0, 20))

    def send_moves(self) -> None:
        """Send what has been moved: one change of the show for all its steps."""
        if self._rest is not None:
            self._rest.stop()
            self._rest = None
        show, moved = self.desk.show, self.moved
        self.moved = {}
        if show is None:
            return
        for thing in things(show):
            place = moved.get(_key(thing))
            if place is not None and (place != thing.place or not thing.placed):
                self.desk.send(self._command(thing, place))

    def _command(self, thing: Thing, place: Place) -> Command:
        show = self.desk.show
        assert show is not None
        if thing.kind == "camera":
            return SetCamera(camera=show.camera.model_copy(update={"place": place}))
        fixture = show.fixture(thing.id) if thing.kind == "lamp" else None
        if fixture is not None:
            return PutFixture(fixture=fixture.model_copy(update={"place": place}))
        piece = next(piece for piece in show.rig.set_pieces if piece.id == thing.id)
        return PutSetPiece(set_piece=piece.model_copy(update={"place": place}))

    def on_screen_suspend(self) -> None:
        self.send_moves()

    # ── light ───────────────────────────────────────────────────────────────────────────────────

    def read_light(self) -> None:
        """Forecast the readings at the subject, as things stand on the screen now."""
        show, snapshot = self.desk.show, self.desk.snapshot
        self.reads = True
        if show is not None and snapshot is not None and self.reading.ask(show, snapshot, self.moved):
            self.run_worker(self.reading.work(), group="forecast")
        self.renew()

    # ── typing ──────────────────────────────────────────────────────────────────────────────────

    def ask_at(self) -> None:
        """Ask for the place of the thing under the cursor in numbers."""
        self.send_moves()
        thing = self.thing()
        if thing is None:
            return

        def take(place: Place | None) -> None:
            if place is not None:
                self.reading.start_over()
                self.desk.send(self._command(thing, place), f"{thing.id} stands there now.")

        def read(text: str) -> Place:
            place = read_place(text)
            if place is None:
                raise ValueError("a place is x and y from the left and lower wall, then height, aim, tilt")
            return place

        hint = "x, y, height, aim°, tilt° in metres or as 6'11\"; - for what is not known"
        typed = write_place(thing.place, " ") if thing.placed else ""
        self.app.push_screen(Ask(f"Place of {thing.id}", hint, read, typed), take)

    def ask_room(self) -> None:
        """Ask for the size of the room and what its surfaces send back."""

        def take(command: Command | None) -> None:
            self.send(command, "Room saved with the show.")

        hint = "4x5x2.6 walls=dark ceiling=white floor=20% · left= right= bottom= top= for one wall"
        self.app.push_screen(Ask("The room", hint, self.read_as("room ")), take)

    # ── set pieces ──────────────────────────────────────────────────────────────────────────────

    def ask_piece(self) -> None:
        def take(command: Command | None) -> None:
            self.send(command, "Added in the middle of the room.")

        hint = "A name and a kind: flag negative fill · board reflector · baker subject"
        self.app.push_screen(Ask("Add a set piece", hint, self.read_as("piece ", " at=2,2")), take)

    def piece(self, done: str) -> SetPiece | None:
        """The set piece under the cursor; anything else is refused in a sentence."""
        thing, show = self.thing(), self.desk.show
        pieces = {piece.id: piece for piece in show.rig.set_pieces} if show is not None else {}
        stands = thing is not None and thing.kind not in ("lamp", "camera")
        piece = pieces.get(thing.id) if thing is not None and stands else None
        if piece is None:
            self.desk.say(f"Only set pieces are {done} here; lamps on Rig, F4.", refused=True)
        return piece

    def edit_piece(self) -> None:
        self.send_moves()
        piece = self.piece("changed")
        if piece is None:
            return

        def read(texts: dict[str, str]) -> SetPiece:
            if not texts["kind"]:
                raise ValueError("give a kind: negative fill, reflector, wall, subject")
            fields = {**piece.model_dump(), "kind": texts["kind"], "note": texts["note"]}
            return build(SetPiece, **fields)

        def take(changed: SetPiece | None) -> None:
            if changed is not None:
                self.desk.send(PutSetPiece(set_piece=changed), f"{changed.id} changed.")

        fields = {"kind": piece.kind, "note": piece.note}
        hint = "Negative fill, reflector, wall, … A subject is drawn as a person."
        self.app.push_screen(Form(f"Change {piece.id}", fields, read, hint), take)

    def delete_piece(self) -> None:
        piece = self.piece("deleted")
        if piece is None:
            return
        self.desk.send(RemoveSetPiece(id=piece.id), f"{piece.id} deleted: u brings it back.")


def where(place: Place) -> tuple[str, str]:
    """A place on the plan in words."""
    return f"{place.x_m:.1f} m from the left wall", f"{place.y_m:.1f} m from the lower wall"


def _key(thing: Thing) -> str:
    return f"{thing.kind} {thing.id}"


def _within(value: float, low: float, high: float) -> float:
    return round(min(max(value, low), high), 3)
