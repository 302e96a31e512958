"""Supervisor: starts the engine, and starts it again if it dies.

Most of the time until the light moves again would go into imports, so the next engine comes from a process
that has done them (``engine/successors.py``).

Imports nothing but the standard library, so that it has next to nothing to fail at and takes little memory.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence

from onecrew.engine.console import END_S, background_output
from onecrew.engine.successors import OWN_GROUP, Engine, successors
from onecrew.terminal import printable

EXIT_DONE = 0
EXIT_DIED = 1
EXIT_CANNOT_START = 2
"""The engine said why it cannot run (a faulty show, one already running): starting again will not help."""
READY = "ready\n"
"""What an engine says on standard output when its first packet has left and all it was to open is open."""
RESUMED = "--resumed"
"""Last word of an engine that takes the place of one that died after it was ready: it says nothing."""
BORROWED = "--borrowed"
"""Last word of a supervisor whose engine is to end with the run that it was started for."""
STAY = b"stay\n"
"""What such a run says on standard input where the engine is not to end with it."""
END_WITHIN_S = 5.0
"""An engine that ends so soon after a Ctrl-C was meant to."""
QUICK_DEATH_S = 2.0
START_S = 30.0
"""The same for an engine that nobody has heard ``READY`` of: its start may take long."""
QUICK_DEATHS = 8
"""Dying this often without living ``QUICK_DEATH_S`` in between is not an accident."""


def supervise(show: str, options: Sequence[str] = (), *, borrowed: bool = False) -> int:
    """Runs the engine of a show until it ends by itself; returns its exit status.

    ``borrowed``: it also ends when standard input does without a word, but for a desk that is locked.

    The engine inherits standard error; its ``READY``, or that of one in its place, is passed on to standard
    output. SIGTERM and SIGINT are passed on to it; it may ask for a second SIGINT (Ctrl-C) and go on without
    one. SIGHUP (a closed window) is not heard.
    """
    with background_output(), Answer() as answer:
        supervisor = Supervisor([show, *options], answer)
        signal.signal(signal.SIGTERM, lambda *_: supervisor.end())
        signal.signal(signal.SIGINT, lambda *_: supervisor.interrupt())
        if hasattr(signal, "SIGHUP"):
            signal.signal(signal.SIGHUP, signal.SIG_IGN)
            # Where whoever started this ignores it, nobody learns what a process ended with.
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        if borrowed:
            when_left(supervisor.interrupt)
        return supervisor.run()


class Supervisor:
    """The engine of one show, started and started again. Make it, ``run()`` it once."""

    def __init__(self, arguments: Sequence[str], answer: Answer) -> None:
        self._show = arguments[0]
        self._answer = answer
        self._engines = successors(arguments, answer.number)
        self._engine: Engine | None = None
        self._ending = False
        self._interrupted_at = -END_WITHIN_S
        self._quick_deaths = 0

    def end(self) -> None:
        """Ends the engine; it is not started again."""
        self._ending = True
        if self._lives():
            self._signal(signal.SIGTERM)
        else:
            self._engines.give_up()

    def interrupt(self) -> None:
        """Has the engine end as Ctrl-C does; what has to be confirmed, a second one confirms."""
        if not OWN_GROUP or not self._lives():
            self.end()
            return
        self._interrupted_at = time.monotonic()
        self._signal(signal.SIGINT)

    def run(self) -> int:
        """Runs engines until one ends by itself, or none can live; returns the exit status."""
        while True:
            started = time.monotonic()
            status = self._one_life()
            meant = self._ending or time.monotonic() < self._interrupted_at + END_WITHIN_S
            if meant or status in (EXIT_DONE, EXIT_CANNOT_START):
                break
            quick = time.monotonic() - started < (QUICK_DEATH_S if self._answer.ready else START_S)
            self._quick_deaths = self._quick_deaths + 1 if quick else 1
            if self._quick_deaths > QUICK_DEATHS:
                say(
                    f"the engine of {self._show} died {self._quick_deaths} times in a row and was "
                    "given up; its log says why, `onecrew open` starts it again"
                )
                status = EXIT_DIED
                break
            say(f"the engine died (status {status}) and is started again")
            if self._quick_deaths > 2:
                self._engines.close()  # perhaps it is what they were made from that is broken
                time.sleep(0.1 * self._quick_deaths)
            if self._ending:
                status = EXIT_DONE
                break
        self._engines.close()
        return status

    def _one_life(self) -> int:
        """Starts an engine and waits for its end; returns its exit status."""
        try:
            self._engine = self._engines.start([RESUMED] if self._answer.ready else [])
        except OSError as error:  # no memory, no process left: the next moment may have one
            no_room(error)
            return EXIT_DIED
        if self._ending:  # the signal came before there was an engine to pass it on to
            self._signal(signal.SIGTERM)
        return self._engines.wait()

    def _lives(self) -> bool:
        return self._engine is not None and self._engine.poll() is None

    def _signal(self, number: int) -> None:
        if self._engine is not None:
            self._engine.send_signal(number)


class Answer:
    """Standard output of the engines: who waits for ``READY`` hears it once, of whichever comes so far."""

    def __init__(self) -> None:
        self.ready = False
        """It was heard."""
        self._heard, self.number = os.pipe()
        """File descriptors of what they say: to read, and for them to write."""
        self._thread = threading.Thread(target=self._pass_on, daemon=True)

    def __enter__(self) -> Answer:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self.number)
        self._thread.join(END_S)  # the engines are gone, so it comes to the end

    def _pass_on(self) -> None:
        with os.fdopen(self._heard, encoding="utf-8", errors="replace") as lines:
            for line in lines:
                if line != READY or not self.ready:
                    sys.stdout.write(line)
                    sys.stdout.flush()
                self.ready = self.ready or line == READY


def when_left(end: Callable[[], None]) -> None:
    """Calls ``end`` when whoever holds the other side of standard input is gone and did not say ``STAY``.

    The system closes it whatever that process dies of, and nobody has to look for it.
    """

    def wait() -> None:
        if not os.read(0, len(STAY)):
            say("the run that this engine was started for is gone, so it ends")
            end()

    threading.Thread(target=wait, daemon=True).start()


def no_room(error: OSError) -> None:
    """Says that there is none for an engine."""
    say(f"the engine could not be started ({error.strerror})")


def say(sentence: str) -> None:
    """A line on standard error, if there still is one: the window may be closed, the log's disk full."""
    with contextlib.suppress(OSError):
        sys.stderr.write(f"onecrew: {printable(sentence)}\n")


if __name__ == "__main__":
    words = [word for word in sys.argv[2:] if word != BORROWED]
    sys.exit(supervise(sys.argv[1], words, borrowed=BORROWED in sys.argv))
