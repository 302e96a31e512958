"""A run of stills over any screen: one light after the other, to be read from where the camera stands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen

from onecrew.commands.running import Blackout
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.stills.guided import SETTLE_S, Phase, guided
from onecrew.stills.shotlist import Shot, shot_list, taken_now
from onecrew.tui import theme, words
from onecrew.tui.desk import Desk
from onecrew.tui.drawing import block_digits
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit, wrap

TICK_S = 0.1
KEYS = {
    "pagedown": "next", "space": "next", "enter": "next", "pageup": "back", "backspace": "back",
    "a": "again", "minus": "less", "s": "skip", "escape": "stop",
}  # fmt: skip
KEYS_HELP = "· PgUp: back · a again · − a stop less · s skip · . blackout · Esc ends"
TAKEN_AWAY = "something else changed the light: PgDn takes it up again"


def shots_of(answer: Mapping[str, Any]) -> tuple[Shot, ...]:
    """Return the stills of an answer of the engine, whose files are still to be named."""
    named = [{**entry, "file": entry.get("file") or ""} for entry in answer["stills"]]
    return shot_list({"stills": named}).shots


class Panel(CanvasWidget):
    """The number of the still, its lamp, and what to do now, as large as fits."""

    def draw(self, canvas: Canvas) -> None:
        screen = self.screen
        assert isinstance(screen, Stills)
        run, now = screen.run, screen.desk.clock()
        rows = max(min(canvas.height // 3, 9), 3)
        canvas.put(1, 0, screen.NAME, theme.NOW)
        canvas.put_right(0, f"{sum(map(bool, run.taken))} taken", theme.LABEL, margin=1)
        half = canvas.width // 2
        number = canvas.part(1, 2, half - 2, rows)
        x = block_digits.put_number(number, 0, 0, str(run.at + 1), rows, theme.NOW)
        number.put(x + 2, rows - 1, f"of {len(run.shots)}", theme.STRONG)
        phase = run.phase(now)
        if phase is Phase.COUNTING:
            left = words.countdown(run.left_s(now))
            digits = canvas.part(half, 2, canvas.width - half - 1, rows)
            block_digits.put_number(digits, 0, 0, left, rows, theme.NEXT)
        elif phase is Phase.OPEN:
            block_digits.put_text(canvas.part(half, 2, canvas.width - half - 1, rows), "now", theme.WARN)
        y = rows + 3
        shot = run.shots[min(run.at, len(run.shots) - 1)]
        name = "dark" if shot.lamp is None else shot.lamp
        y += block_digits.put_text(
            canvas.part(1, y, canvas.width - 2, canvas.height - y - 5), name, theme.STRONG
        )
        canvas.put(1, y + 1, fit(run.words, canvas.width - 2), theme.STRONG)
        said = run.paused or run.remark or phase.value
        style = theme.WARN if run.paused or run.remark else theme.NEXT
        for row, line in enumerate(wrap(said, canvas.width - 2)[:2]):
            canvas.put(1, y + 2 + row, line, style)
        for row, line in enumerate(reversed(wrap(f"{screen.HELP} {KEYS_HELP}", canvas.width - 2))):
            canvas.put(1, canvas.height - 1 - row, line, theme.LABEL)


class Stills(ModalScreen[list[tuple[Shot, str]]]):
    """The run; the answer is what was taken, each still with its time.

    Whatever ends it, the light comes back: it is shown only as long as this asks for it.
    """

    NAME = "STILLS"
    HELP = "PgDn or Space: taken, next"

    AUTO_FOCUS = ""
    DEFAULT_CSS = "Stills { background: $background; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "stop", "end")]

    def __init__(self, desk: Desk, shots: tuple[Shot, ...], wait_s: float | None) -> None:
        super().__init__()
        self.desk = desk
        self.run = guided(shots, desk.clock(), wait_s)
        self._shown: ShowStill | None = None
        self._asked_at = 0.0

    def compose(self) -> ComposeResult:
        yield Panel()

    def on_mount(self) -> None:
        self.set_interval(TICK_S, self.look)
        self.follow()

    def on_unmount(self) -> None:
        self.desk.send(ShowStill(off=True))

    def clicked(self, name: str) -> None:
        self.press("next" if name == "go" else "back")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        if event.key in ("full_stop", "b"):
            self.desk.send(Blackout())
        elif event.key in KEYS:
            self.press(KEYS[event.key])

    def press(self, key: str) -> None:
        """A key of the run."""
        self.run = self.run.pressed(key, self.desk.clock(), taken_now())
        self.follow()

    def look(self) -> None:
        """Time has gone by: the countdown runs, and the light is asked for again while it is there."""
        now, snapshot = self.desk.clock(), self.desk.snapshot
        self.run = self.run.passed(now, taken_now())
        light = self.run.light if snapshot is not None and self.desk.lost is None else None
        if light is not None and snapshot is not None and now > self.run.since + SETTLE_S:
            if snapshot.blackout:
                self.run = self.run.halted("blackout: . brings the light back, then PgDn")
            elif snapshot.still != light.words:
                told = self.desk.message
                self.run = self.run.halted(told[0] if told is not None and told[1] else TAKEN_AWAY)
        self.follow()

    def follow(self) -> None:
        """Send what the run wants, end where it is over, and draw."""
        if self.run.over:
            if self.app.screen is self:  # under a question it waits; it is current there, too
                self.dismiss(self.run.result)
            return
        light, now = self.run.light, self.desk.clock()
        if light is None:
            if self._shown is not None:
                self.desk.send(ShowStill(off=True))
        elif light != self._shown or self.run.since > self._asked_at:
            self.desk.hush()
            self.desk.send(light)
            self._asked_at = now
        elif now >= self._asked_at + KEEP_EVERY_S:
            self.desk.send(light.model_copy(update={"again": True}))
            self._asked_at = now
        self._shown = light
        self.query_one(Panel).renew()

    def action_stop(self) -> None:
        self.press("stop")
