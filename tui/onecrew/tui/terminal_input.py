"""Keys from the terminal to the app, by as few turns of the event loop as it takes."""

from __future__ import annotations

import sys
from contextvars import copy_context
from typing import Any

from textual.driver import Driver
from textual.message import Message

SWITCH_S = 0.0001
"""How long a painting keeps the thread that reads the terminal waiting; Python's own 5 ms outlast it."""


class Prompt(Driver):
    """Hands over what was typed, in the order of typing, by one turn of the loop.

    Textual's own way makes a task of each event, which takes two turns more; a part of a painting may come in
    each of them.
    """

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._context = copy_context()
        sys.setswitchinterval(SWITCH_S)

    def send_message(self, message: Message) -> None:
        self._loop.call_soon_threadsafe(self._app.post_message, message, context=self._context)


def prompt(driver: type[Driver]) -> type[Driver]:
    """The driver of a platform with this way of its keys."""
    return type(driver.__name__, (Prompt, driver), {})
