"""Typing ahead: keys that come while a dialog opens or closes wait for it.

None of them is lost, and none falls on the screen below, where the same letter would do something.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

from textual import events
from textual.screen import ModalScreen, Screen

from onecrew.tui.dialogs.choose import Choose
from onecrew.tui.dialogs.listing import Listing

if TYPE_CHECKING:
    from textual.app import App

LOOK_EVERY_S = 0.005
PATIENCE = 400
"""Looks after which the keys are let go whatever is open."""
CALM_LOOKS = 3
"""Looks in a row that find an answered dialog at rest before the next key goes on."""
SETTLED_FIRST = ("enter", "escape", "tab", "shift+tab", "up", "down")
"""Keys after which a dialog may be another, or another line of it."""
NEVER_HELD = ("pagedown", "pageup", "full_stop")
"""The clicker's keys: what they do on the set does not wait for a list that the engine is asked for."""


Typed = events.Key | events.Paste


def _key(event: Typed) -> str:
    return event.key if isinstance(event, events.Key) else ""


class TypeAhead:
    """Holds keys back; ``carry(event)`` is where they go in the end, in the order of pressing."""

    def __init__(self, app: App[None], carry: Callable[[Typed], Awaitable[None]]) -> None:
        self._app, self._carry = app, carry
        self._held: deque[Typed] = deque()
        self._answered: Screen[object] | None = None
        self._ready: Screen[object] | None = None
        """The dialog that has its focus."""
        self._calm = 0
        self._looks = 0
        self._looking = False
        self._opening = 0
        """How many dialogs will open once the engine has answered."""

    @property
    def holds(self) -> bool:
        """Whether keys are being held back."""
        return bool(self._held)

    @property
    def is_free(self) -> bool:
        """Whether a key on a screen without a dialog goes on at once."""
        return not (self._held or self._opening or self._answered)

    async def take(self, event: Typed) -> None:
        """A key was pressed, or text was pasted."""
        if self._opening and _key(event) in NEVER_HELD:
            await self._carry(event)
            return
        self._held.append(event)
        await self._let_go()

    def opening(self) -> None:
        """A dialog will open once the engine has answered: what is typed until then is meant for it."""
        self._opening += 1

    def opened(self, *, there: bool) -> None:
        """The engine has answered; where it refused, no dialog is ``there`` for what was typed."""
        self._opening -= 1
        if not there:
            self._held.clear()

    async def _let_go(self) -> None:
        while self._held and not self._must_wait():
            self._looks = 0
            event, screen = self._held.popleft(), self._app.screen
            await self._carry(event)
            if isinstance(screen, ModalScreen) and (
                _key(event) in SETTLED_FIRST or isinstance(screen, Choose | Listing)
            ):
                self._answered, self._calm = screen, 0
        if self._held and not self._looking:
            self._looking = True
            self._app.set_timer(LOOK_EVERY_S, self._look_again)

    async def _look_again(self) -> None:
        self._looking = False
        if self._app.screen_stack:  # it is empty while the program ends
            await self._let_go()

    def _must_wait(self) -> bool:
        if self._opening:
            return True
        if self._looks >= PATIENCE:
            return False
        self._looks += 1
        if self._answered is not None:
            if any(pump.message_queue_size for pump in (self._answered, *self._answered.walk_children())):
                self._calm = 0
                return True
            # What the answer sets off runs after the app's present message, and may open a dialog.
            self._calm += 1
            if self._calm < CALM_LOOKS:
                return True
            self._answered = None
        screen = self._app.screen
        if isinstance(screen, ModalScreen) and screen is not self._ready and screen.AUTO_FOCUS != "":
            # Taking the focus selects the text of a line: a letter that came before that would be replaced.
            if screen.focused is None or screen.focused.message_queue_size:
                return True
            self._ready = screen
        return False
