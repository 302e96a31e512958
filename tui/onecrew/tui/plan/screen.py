"""The Plan screen: lamps, set pieces and camera from above, moved and turned with the arrow keys."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult

from onecrew.commands.camera import SetCamera
from onecrew.commands.command import Command
from onecrew.commands.rig import PutFixture
from onecrew.commands.set_pieces import PutSetPiece, RemoveSetPiece
from onecrew.language.places import read_place, write_place
from onecrew.plan.assumed import size_of, tilt_toward
from onecrew.show.show import Place, SetPiece
from onecrew.tui import words
from onecrew.tui.actions import Action
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.camera import ask_camera
from onecrew.tui.dialogs.form import gone
from onecrew.tui.drawing.floor import places
from onecrew.tui.drawing.plan import Thing, things
from onecrew.tui.plan import pieces
from onecrew.tui.plan.keys import PLAN
from onecrew.tui.plan.layout import PlanBody
from onecrew.tui.plan.moving import PULL_M, Walls, aim_at, height_of, where
from onecrew.tui.plan.wanting import ask_want
from onecrew.tui.readings import Question, Readings

if TYPE_CHECKING:
    from textual.timer import Timer

    from onecrew.plan.light_map import LightMap

REST_S = 0.5
"""A thing that has not moved for this long is sent: one change of the show, one undo."""
AXES = ("x_m", "y_m")
NO_PLACE = "No lamp has a place yet, so there is nothing to read: Tab to one, and arrows or j place it."


class Plan(BaseScreen):
    """Lamps, set pieces and camera, moved with the arrow keys or the mouse."""

    TITLE = "Plan"
    TOPIC = "forecast"
    ACTIONS: ClassVar[tuple[Action, ...]] = PLAN

    def __init__(self) -> None:
        super().__init__()
        self.cursor = 0
        self._made = ""
        """A set piece that was just added: the cursor goes to it when it is there."""
        self.moved: dict[str, Place] = {}
        """What is being moved and not sent yet, by kind and id."""
        self._rest: Timer | None = None
        self._dragging = False
        self.reading = Readings(self.renew)
        self.reads = False
        """Whether readings are shown: from the first move on, or when asked for."""
        self.mapped = False
        """Whether the map of light is shown."""

    def body(self) -> ComposeResult:
        yield PlanBody(self)

    def more_help(self) -> str:
        return (
            "Mouse: drag a lamp, a subject, the camera or a set piece with the left button; near a wall it "
            "goes to the wall. The right button aims what is selected; the wheel turns what is held by 5°.\n"
            "A move by mouse or keys is one change of the show and one undo; Esc drops an unfinished one.\n"
            "The map shades the floor in stops against the camera notes, at the height of a face that looks "
            "at the camera."
        )

    def things(self) -> list[Thing]:
        found = things(self.desk.show) if self.desk.show is not None else []
        made = [index for index, one in enumerate(found) if self._made and one.id == self._made]
        if made:
            self.cursor, self._made = made[-1], ""
        self.cursor = max(min(self.cursor, len(found) - 1), 0)
        return found

    def thing(self) -> Thing | None:
        found = self.things()
        return found[self.cursor] if found else None

    def place(self, thing: Thing) -> Place:
        return self.moved.get(_key(thing), thing.place)

    def lines(self, thing: Thing) -> list[str]:
        """The thing under the cursor in words and numbers."""
        show, place = self.desk.show, self.place(thing)
        assert show is not None
        lines = [f"{thing.id}: {thing.said or thing.kind}", *where(place, show.room.units)]
        if thing.kind == "camera":
            lines.append(words.camera(show.camera))
        fixture = show.fixture(thing.id) if thing.kind == "lamp" else None
        if fixture is not None and fixture.modifiers:
            lines.append(words.modifiers(fixture.modifiers))
        if not thing.placed and _key(thing) not in self.moved:
            lines.append("no place yet: arrows set one")
        if self.reads:
            lines += self.reading.lines(thing.id if thing.kind == "lamp" else None)
            if thing.kind == "camera":
                lines += self.reading.flicker
        return lines

    def light(self) -> tuple[LightMap, float, str] | None:
        """The map of light, what its stops are against, and that in words; None where it is not shown."""
        light, read = self.reading.light, self.reading.now
        if not self.mapped or light is None or not read:
            return None
        if read[0].absolute:
            return light, read[0].nominal_lux, "stops to notes"
        return (light, read[0].camera_lux, f"stops to {read[0].subject}") if read[0].camera_lux else None

    # ── moving ──────────────────────────────────────────────────────────────────────────────────

    def choose(self, step: int) -> None:
        found = self.things()
        if found:
            self.choose_at((self.cursor + step) % len(found))

    def choose_at(self, index: int) -> None:
        self.send_moves()
        self.cursor = index
        self.reading.start_over()
        self.renew()

    def _change(self, **fields: float) -> None:
        thing = self.thing()
        if thing is None:
            return
        place = Place.model_validate({**self.place(thing).model_dump(), **fields})
        if place == self.place(thing) and (thing.placed or _key(thing) in self.moved):
            return
        self.moved[_key(thing)] = place
        if self._rest is not None:
            self._rest.stop()
        if not self._dragging:
            self._rest = self.set_timer(REST_S, self.send_moves)
        self.read_light()

    def walls(self) -> Walls:
        show = self.desk.show
        assert show is not None
        width, depth, _ = size_of(show.room, places(show))
        return Walls(width, depth)

    def shift(self, axis: int, step_m: float) -> None:
        thing = self.thing()
        if thing is not None:
            name = AXES[axis]
            self._change(**{name: self.walls().stepped(axis, getattr(self.place(thing), name), step_m)})

    def to_wall(self, axis: int, far: int) -> None:
        if self.thing() is not None:
            self._change(**{AXES[axis]: round(self.walls().stops(axis)[far], 3)})

    def turn(self, degrees: float) -> None:
        thing = self.thing()
        if thing is not None:
            self._change(aim_deg=((self.place(thing).aim_deg or 0.0) + degrees) % 360)

    def tilt(self, degrees: float) -> None:
        """Tilts it, from where the forecast takes it to be where no tilt is known."""
        thing = self.thing()
        if thing is not None:
            place = self.place(thing)
            now = place.tilt_deg if place.tilt_deg is not None else self._assumed_tilt(thing, place)
            self._change(tilt_deg=_within(round((now + degrees) / degrees) * degrees, -90, 90))

    def _assumed_tilt(self, thing: Thing, place: Place) -> float:
        subject = next((each for each in self.things() if each.kind == "subject"), None)
        if thing.kind != "lamp" or subject is None:
            return 0.0
        stood = subject.place
        face = stood.x_m, stood.y_m, height_of("subject", stood)
        return tilt_toward((place.x_m, place.y_m, height_of("lamp", place)), place.aim_deg, face)

    def lift(self, step: float) -> None:
        thing = self.thing()
        if thing is not None:
            self._change(height_m=_within(height_of(thing.kind, self.place(thing)) + step, 0, 20))

    def drag_to(self, x_m: float, y_m: float, cell_m: float) -> None:
        """The pointer has it there; a column of the screen is ``cell_m`` wide, a row twice that."""
        self._dragging, walls = True, self.walls()
        self._change(
            x_m=walls.pulled(0, x_m, max(PULL_M, cell_m)), y_m=walls.pulled(1, y_m, max(PULL_M, 1.5 * cell_m))
        )

    def aim_to(self, x_m: float, y_m: float) -> None:
        """The pointer says where it aims."""
        thing = self.thing()
        aim = aim_at(self.place(thing), x_m, y_m) if thing is not None else None
        if aim is not None:
            self._dragging = True
            self._change(aim_deg=aim)

    def drop(self) -> None:
        """The button was let go: what was dragged is one change."""
        self._dragging = False
        self.send_moves()

    def put_back(self) -> None:
        """Takes a move back that is not sent yet."""
        if self.moved:
            self.moved = {}
            self._dragging = False
            self.query_one(PlanBody).let_go()
            self.send_moves()
            self.read_light()

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
                self._send_place(thing, place)

    def _send_place(self, thing: Thing, place: Place, done: str = "") -> None:
        """Put it there, as it is by now; another window may have deleted it."""
        show = self.desk.show
        assert show is not None
        there = {"place": place}
        fixture = show.fixture(thing.id) if thing.kind == "lamp" else None
        piece = pieces.find(show, thing.id) if thing.kind not in ("lamp", "camera") else None
        if thing.kind == "camera":
            self.send(SetCamera(camera=show.camera.model_copy(update=there)), done)
        elif fixture is not None:
            self.send(PutFixture(fixture=fixture.model_copy(update=there)), done)
        elif piece is not None:
            self.send(PutSetPiece(set_piece=piece.model_copy(update=there)), done)
        else:
            self.desk.say(gone(thing.id), refused=True)

    def on_screen_suspend(self) -> None:
        self.drop()

    # ── light ───────────────────────────────────────────────────────────────────────────────────

    def ask_readings(self) -> None:
        """Forecast the readings, where a lamp has a place."""
        show = self.desk.show
        if show is not None and not self.moved and not any(one.place for one in show.rig.fixtures):
            self.desk.say(NO_PLACE, refused=True)
        else:
            self.read_light()

    def read_light(self) -> None:
        """Forecast the readings at the subjects, as things stand on the screen now."""
        show, snapshot = self.desk.show, self.desk.snapshot
        self.reads = True
        if show is not None and snapshot is not None:
            self._work(self.reading.ask(Question(show, snapshot, dict(self.moved), self.mapped)))
        self.renew()

    def _work(self, idle: bool) -> None:
        if idle:
            self.run_worker(self.reading.work(), group="forecast")

    def show_map(self) -> None:
        self.mapped = not self.mapped
        self.read_light()

    def renew_by_parts(self) -> Iterator[None]:
        """Readings that are shown follow the light."""
        yield from super().renew_by_parts()
        show, snapshot = self.desk.show, self.desk.snapshot
        if self.reads and show is not None and snapshot is not None and not self.moved:
            self._work(self.reading.ask_when_still(Question(show, snapshot, {}, self.mapped)))

    def ask_want(self) -> None:
        self.send_moves()
        ask_want(self, self.reading)

    # ── typing ──────────────────────────────────────────────────────────────────────────────────

    def ask_at(self) -> None:
        """Ask for the place of the thing under the cursor in numbers."""
        self.send_moves()
        thing = self.thing()
        if thing is None:
            return

        def take(place: Place) -> None:
            self.reading.start_over()
            self._send_place(thing, place, f"{thing.id} stands there now.")

        def read(text: str) -> Place:
            place = read_place(text)
            if place is None:
                raise ValueError("a place is x and y from the left and lower wall, then height, aim, tilt")
            return place

        hint = "x, y, height, aim°, tilt° in metres or as 6'11\"; - for what is not known"
        typed = write_place(thing.place, " ") if thing.placed else ""
        self.ask_of_scene(Ask(f"Place of {thing.id}", hint, read, typed), take)

    def ask_room(self) -> None:
        """Ask for the size of the room and what its surfaces send back."""

        def take(command: Command) -> None:
            self.send(command, "Room saved with the show.")

        hint = "4x5x2.6 walls=dark ceiling=white floor=20% · left= for one wall · mains=50 · units=feet"
        self.ask_of_scene(
            Ask("The room", hint, self.read_as("room ", needs="a size, as 4x5x2.6, or what changes")), take
        )

    # ── set pieces ──────────────────────────────────────────────────────────────────────────────

    def ask_piece(self) -> None:
        pieces.ask_new(self, self.walls, self._select_new)

    def _select_new(self, piece_id: str) -> None:
        self._made = piece_id

    def piece(self, done: str) -> SetPiece | None:
        """The set piece under the cursor; anything else is refused in a sentence."""
        thing = self.thing()
        stands = thing is not None and thing.kind not in ("lamp", "camera")
        piece = pieces.find(self.desk.show, thing.id) if thing is not None and stands else None
        if piece is None:
            self.desk.say(f"Only set pieces are {done} here; lamps on Rig, F4.", refused=True)
        return piece

    def edit(self) -> None:
        """The camera's settings, or what a set piece is."""
        self.send_moves()
        thing = self.thing()
        if thing is not None and thing.kind == "camera":
            ask_camera(self)
            return
        piece = self.piece("changed")
        if piece is not None:
            pieces.ask_edit(self, piece.id)

    def delete_piece(self) -> None:
        piece = self.piece("deleted")
        if piece is None:
            return
        self.desk.send(RemoveSetPiece(id=piece.id), f"{piece.id} deleted: u brings it back.")


def _key(thing: Thing) -> str:
    return f"{thing.kind} {thing.id}"


def _within(value: float, low: float, high: float) -> float:
    return round(min(max(value, low), high), 3)
