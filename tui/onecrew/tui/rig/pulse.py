"""A lamp that pulses while a person is asked about it, and no longer: the screens may end at any moment."""

from __future__ import annotations

from onecrew.commands.light import PULSE_EVERY_S, Identify
from onecrew.tui.base import BaseScreen


class Pulse:
    """One lamp of the rig at a time; the engine ends it as soon as nobody asks for it any more."""

    def __init__(self, screen: BaseScreen) -> None:
        self._desk = screen.desk
        self._wanted: Identify | None = None
        self._again = screen.set_interval(PULSE_EVERY_S, self._ask)

    def show(self, fixture: str) -> None:
        self._wanted = Identify(fixtures=(fixture,), briefly=True)
        self._again.reset()
        self._ask()

    def end(self) -> None:
        self._again.stop()
        self._desk.send(Identify())

    def _ask(self) -> None:
        if self._wanted is not None:
            self._desk.send(self._wanted)
