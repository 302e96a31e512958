"""A line to type in."""

from __future__ import annotations

from textual import events
from textual.reactive import reactive
from textual.widgets import Input


class Field(Input):
    """A line to type in that does its keys in the order in which they were pressed.

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
