"""The Shoot screen: one keystroke for everything that is done in front of the camera."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult

from onecrew.commands.command import Command
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.running import Master, Recall
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.tui.actions import Action
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.drawing.floor import Pool
from onecrew.tui.shoot.keys import SHOOT
from onecrew.tui.shoot.layout import ShootBody


class Shoot(BaseScreen):
    """Now, next, countdown, take."""

    TITLE = "Shoot"
    ACTIONS: ClassVar[tuple[Action, ...]] = SHOOT

    def __init__(self) -> None:
        super().__init__()
        self.countdown = Countdown(seconds=10.0)
        """The countdown that d starts: the last one that was set."""
        self.seen: Sequence[Any] = ()

    @property
    def countdown_s(self) -> float:
        return self.countdown.seconds

    def body(self) -> ComposeResult:
        yield ShootBody(self)

    def on_mount(self) -> None:
        self.set_interval(0.1, self._tick)
        if self.desk.receiver is not None:
            self.set_interval(0.1, self._look_around)
            self._look_around()

    def _tick(self) -> None:
        """Clocks move on without any news from the engine: countdown, auto-follow, a rolling take."""
        snapshot = self.desk.snapshot
        if snapshot is None or not self.is_current:
            return
        rolling = snapshot.take is not None and snapshot.take.running
        body = self.query_one(ShootBody)
        counting = snapshot.countdown is not None or snapshot.auto_follow_left_s is not None
        if rolling or counting or body.floor.stale:
            self.desk.repaint()

    def _look_around(self) -> None:
        if self.desk.receiver is not None and self.is_current:
            seen = self.desk.receiver()
            if seen != self.seen:
                self.seen = seen
                self.desk.repaint()

    def pools(self) -> list[Pool]:
        """The lamps' light for the floor plan: what the receiver sees, or what the engine says."""
        show, snapshot = self.desk.show, self.desk.snapshot
        if show is None or snapshot is None:
            return []
        places = {fixture.id: fixture.place for fixture in show.rig.fixtures}
        if self.desk.receiver is not None:
            return [
                Pool(lamp.id, lamp.level, getattr(lamp, "swatch", "") or "", places.get(lamp.id))
                for lamp in self.seen
            ]
        return [
            Pool(name, light.level, light.swatch, places.get(name)) for name, light in snapshot.lights.items()
        ]

    def banner(self) -> str:
        """Only the missing engine: the other states stand in block letters."""
        return self.desk.lost or ""

    def footer_actions(self) -> tuple[Action, ...]:
        """Go and back first: they are what a clicker sends."""
        here = super().footer_actions()
        return tuple(sorted(here, key=lambda action: (not action.always, action.footer)))

    def more_help(self) -> str:
        cues = self.desk.show.cues if self.desk.show is not None else ()
        lines = [f"{cue.shortcut or '(none)':<13} {cue.number} {cue.name}".rstrip() for cue in cues]
        return "\n".join(["Shortcuts of the cues", "", *lines] if lines else [])

    def clicked(self, kind: str, value: str) -> None:
        if kind == "lamp":
            self.desk.cursor.id = value
            self.desk.say(f"{value} is under the cursor: F3 opens its light.")
        else:
            super().clicked(kind, value)

    # ── keys ────────────────────────────────────────────────────────────────────────────────────

    def take_key(self, event: events.Key) -> bool:
        """A printable key that is none of the screen's own is a cue's shortcut, or a stray."""
        if super().take_key(event):
            return True
        character = event.character
        if character is None or not character.isprintable():
            return False
        show, snapshot = self.desk.show, self.desk.snapshot
        cue = (
            next((cue for cue in show.cues if cue.shortcut == character), None) if show is not None else None
        )
        if cue is not None:
            self.desk.hush()
            self.desk.send(Recall(cue=cue.number))
        elif snapshot is not None and snapshot.locked:
            self.desk.say("The light is locked: l unlocks it.", refused=True)
        else:
            self.desk.say(f"No cue has the shortcut {character}.", refused=True)
        return True

    def toggle_countdown(self) -> None:
        snapshot = self.desk.snapshot
        if snapshot is not None and snapshot.countdown is not None:
            self.send(CancelCountdown())
        else:
            self.send(self.countdown)

    def ask_countdown(self) -> None:
        question = "Countdown: how many seconds, and what then?"
        hint = "5 · 20 take start · 8 recall 3 · 10 blackout. Seconds alone: go. d starts it again."
        self.ask(
            Ask(question, hint, self.read_as("countdown ", needs="seconds, as 10 or 10 go")),
            self._countdown_set,
        )

    def _countdown_set(self, command: Command) -> None:
        if isinstance(command, Countdown):
            self.countdown = command
            self.send(command)

    def toggle_take(self) -> None:
        take = self.desk.snapshot.take if self.desk.snapshot is not None else None
        self.send(TakeEnd() if take is not None and take.running else TakeStart())

    def end_take(self, good: bool) -> None:
        take = self.desk.snapshot.take if self.desk.snapshot is not None else None
        if take is None or not take.running:
            self.desk.say("No take is rolling: t starts one.", refused=True)
        else:
            self.send(TakeEnd(good=good))

    def ask_setup(self) -> None:
        hint = (
            "Takes of a new setup count from 1. 'B from 3' fades from what shows into cue 3; "
            "'B from black 3' is the same each time."
        )
        self.ask(Ask("Start a take in which setup?", hint, self.read_as("take start ")), self.send)

    def ask_note(self) -> None:
        take = self.desk.snapshot.take if self.desk.snapshot is not None else None
        which = "this take" if take is not None and take.running else "the last take"
        self.ask(
            Ask(f"Note on {which}", "It goes into the log.", self.read_as("take note ", needs="a note")),
            self.send,
        )

    def ask_clip(self) -> None:
        hint = "As the camera names its file, such as A003C012: the edit finds it by that."
        self.ask(
            Ask("The camera's clip of the last take", hint, self.read_as("take clip ", needs="a name")),
            self.send,
        )

    def move_master(self, step: float) -> None:
        if self.desk.snapshot is not None:
            level = min(max(self.desk.snapshot.master + step, 0.0), 1.0)
            self.send(Master(level=round(level, 4)))
