"""A line to type in."""

from __future__ import annotations

from textual import events
from textual.reactive import reactive
from textual.widgets import Input

from onecrew.terminal import acts


class Field(Input):
    """A line to type in that does its keys in the order in which they were pressed, and keeps all of a paste.

    The library types a letter at once, but Backspace only when the key has gone up to the app and found no
    other meaning there: letters that were typed right behind it were what it took away, where keys come
    faster than they are worked off.
    """

    cursor_blink = reactive(False, init=False)

    def _on_key(self, event: events.Key) -> None:  # type: ignore[override]
        at_once = {
            "backspace": self.action_delete_left,
            "delete": self.action_delete_right,
            "left": self.action_cursor_left,
            "right": self.action_cursor_right,
            "home": self.action_home,
            "end": self.action_end,
        }
        if (act := at_once.get(event.key)) is not None:
            event.stop()
            event.prevent_default()
            act()

    def _on_paste(self, event: events.Paste) -> None:
        """Makes one line of several; the library keeps the first alone and says nothing of the rest."""
        line = " ".join(part for part in event.text.replace("\t", " ").splitlines() if part)
        event.text = "".join(char for char in line if not acts(char)).strip()
