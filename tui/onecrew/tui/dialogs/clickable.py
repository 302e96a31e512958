"""A line of a dialog that can be clicked as well as reached by its key."""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.widgets import Static


class Clickable(Static):
    """Text that does something when it is clicked."""

    DEFAULT_CSS = "Clickable:hover { text-style: underline; }"

    def __init__(self, text: str, run: Callable[[], object], classes: str | None = None) -> None:
        super().__init__(text, classes=classes, markup=False)
        self._run_clicked = run

    def on_click(self, event: events.Click) -> None:
        event.stop()
        if event.button == 1 and event.chain == 1:  # the first half of a double click may have opened this
            self._run_clicked()
