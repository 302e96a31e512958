"""A line to type in."""

from __future__ import annotations

from textual import events
from textual.binding import Binding
from textual.reactive import reactive
from textual.widgets import Input

from onecrew.terminal import acts

AT_ONCE = {
    key: binding.action
    for binding in Input.BINDINGS
    if isinstance(binding, Binding) and binding.action not in ("submit", "copy")
    for key in binding.key.split(",")
}
"""What each key does that moves in the line or changes it."""


class Field(Input):
    """A line to type in that does its keys in the order in which they were pressed, and keeps all of a paste.

    The library types a letter at once, but Backspace or Ctrl+U only when the key has gone up to the app and
    found no other meaning there: letters that were typed right behind it were what it took away, where keys
    come faster than they are worked off.
    """

    cursor_blink = reactive(False, init=False)

    async def _on_key(self, event: events.Key) -> None:
        if (action := AT_ONCE.get(event.key)) is not None:
            event.stop()
            event.prevent_default()
            await self.run_action(action)

    def _on_paste(self, event: events.Paste) -> None:
        """Makes one line of several; the library keeps the first alone and says nothing of the rest."""
        line = " ".join(part for part in event.text.replace("\t", " ").splitlines() if part)
        event.text = "".join(char for char in line if not acts(char)).strip()
