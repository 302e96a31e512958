"""Signals: an end from outside leaves the terminal as it was, not in the screens' own mode."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from typing import TypeVar

from textual.app import App

Result = TypeVar("Result")
ENDS = ("SIGTERM", "SIGHUP")
"""What asks a program to end: a shutdown, a closed window. The system has not all of them everywhere."""
END_S = 1.0
"""How long the screens have for it: a terminal that is gone takes nothing, and is not waited for."""


async def run_until_ended(app: App[Result]) -> Result | None:
    """Runs screens until they exit, or are asked to by a signal; returns what they were left with."""
    loop = asyncio.get_running_loop()
    numbers = [getattr(signal, name) for name in ENDS if hasattr(signal, name)]
    before = {number: signal.getsignal(number) for number in numbers}
    late: list[threading.Timer] = []

    def end(number: int) -> None:
        loop.remove_signal_handler(number)  # from now on it ends the process, as it does by itself
        timer = threading.Timer(END_S, os.kill, (os.getpid(), number))
        timer.daemon = True
        timer.start()
        late.append(timer)
        app.exit()

    try:
        for number in numbers:
            loop.add_signal_handler(number, end, number)
    except NotImplementedError:  # Windows: its terminal has no such mode to be left in
        numbers = []
    try:
        return await app.run_async()
    finally:
        for timer in late:
            timer.cancel()
        for number in numbers:
            loop.remove_signal_handler(number)
            signal.signal(number, before[number])
