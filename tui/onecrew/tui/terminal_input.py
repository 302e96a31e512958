"""Keys from the terminal to the app, by as few turns of the event loop as it takes."""

from __future__ import annotations

import asyncio
import codecs
import os
import threading
from contextvars import copy_context
from typing import Any

from textual._xterm_parser import XTermParser
from textual.constants import ESCAPE_DELAY
from textual.driver import Driver
from textual.message import Message

AT_ONCE = 4096
"""Bytes that are read at a time."""


class ByOneTurn(Driver):
    """Hands over what was typed, in the order of typing, by one turn of the loop.

    Textual's own way makes a task of each event, which takes two turns more; a part of a painting may come in
    each of them.
    """

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._context = copy_context()
        self._thread = threading.get_ident()
        self._reads = False
        self._later: asyncio.TimerHandle | None = None

    def send_message(self, message: Message) -> None:
        self._loop.call_soon_threadsafe(self._app.post_message, message, context=self._context)


class ReadsInLoop(ByOneTurn):
    """Reads the terminal between two parts of a painting, where Textual has a thread for it: on a busy
    machine such a thread gets no processor before the painting is done."""

    fileno: int
    exit_event: threading.Event

    def start_application_mode(self) -> None:
        self._parser = XTermParser()
        self._decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        try:
            self._loop.add_reader(self.fileno, self._read)
            self._reads = True
        except (OSError, NotImplementedError):  # what is no terminal, or a loop that cannot
            self._reads = False
        super().start_application_mode()  # type: ignore[safe-super]

    def run_input_thread(self) -> None:
        if self._reads:
            self.exit_event.wait()
        else:
            super().run_input_thread()  # type: ignore[misc]

    def disable_input(self) -> None:
        self._stop_reading()
        super().disable_input()  # type: ignore[safe-super]

    def send_message(self, message: Message) -> None:
        if threading.get_ident() == self._thread:
            self._context.run(self._app.post_message, message)
        else:
            super().send_message(message)

    def _read(self) -> None:
        try:
            read = os.read(self.fileno, AT_ONCE)
        except OSError:
            read = b""
        if not read:  # the terminal is gone
            self._stop_reading()
            self._app.exit()
            return
        for event in self._parser.feed(self._decode(read)):
            self.process_message(event)
        if self._later is not None:
            self._later.cancel()
        self._later = self._loop.call_later(ESCAPE_DELAY * 1.1, self._tick)

    def _tick(self) -> None:
        """What has waited for more bytes until now stands for itself, such as Escape."""
        for event in self._parser.tick():
            self.process_message(event)

    def _stop_reading(self) -> None:
        if self._reads:
            self._loop.remove_reader(self.fileno)
        if self._later is not None:
            self._later.cancel()


def with_quick_keys(driver: type[Driver]) -> type[Driver]:
    """The driver of a platform with this way of its keys."""
    way = ReadsInLoop if hasattr(driver, "run_input_thread") else ByOneTurn
    return type(driver.__name__, (way, driver), {})
