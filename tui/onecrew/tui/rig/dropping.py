"""Escape in a calibration: what was read is dropped only after a question."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App

from onecrew.tui.dialogs.choose import Choice, Choose

CHOICES = (
    Choice("g", "Go on", "Nothing is lost.", "on"),
    Choice("d", "Drop it", "The lamp stays as it was.", "drop"),
)


def ask_drop(
    app: App[Any], lamp: str, drop: Callable[[], object], go_on: Callable[[], object] = lambda: None
) -> None:
    """Ask before what was read of a lamp is dropped; Enter and one more Escape go on."""

    def take(answer: str | None) -> None:
        (drop if answer == "drop" else go_on)()

    app.push_screen(Choose(f"Drop what was read of {lamp}?", CHOICES, back="go on, nothing is lost"), take)
