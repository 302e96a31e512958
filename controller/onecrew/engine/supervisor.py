"""Supervisor: starts the engine, and starts it again if it dies.

Most of the time until the light moves again would go into imports. So a second engine has done them and
waits; it takes the place of the first one the moment that one dies. It costs memory and, once it waits, no
processor.

Imports nothing but the standard library, so that it has next to nothing to fail at and takes little memory.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence

from onecrew.terminal import printable

EXIT_DONE = 0
EXIT_CANNOT_START = 2
"""The engine said why it cannot run (a faulty show, one already running): starting again will not help."""
OWN_GROUP = os.name == "posix"
"""Ctrl-C at the terminal reaches the supervisor alone, which passes it on once."""
SMALL = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYDANTIC_DISABLE_PLUGINS": "1"}
"""The engine's arrays are small: more threads in the linear algebra cost memory and make frames unsteady.
There are no plugins of pydantic: looking for some takes time at each start."""
ABOVE_NORMAL = int(getattr(subprocess, "ABOVE_NORMAL_PRIORITY_CLASS", 0))
"""To run before other programs: on Windows set at the start, elsewhere asked for by the engine."""
SUPERVISOR = "ONECREW_SUPERVISOR"
"""Environment variable by which an engine knows the process that starts it again."""
SPARE = "--spare"
"""First word of an engine that does its imports, then waits for a line on standard input; its end ends it."""
SPARE_AFTER_S = 1.0
"""The engine has lived so long before the next one is made ready: a start has the processor to itself."""
BORROWED = "--borrowed"
"""Last word of a supervisor whose engine is to end with the run that it was started for."""
STAY = b"stay\n"
"""What such a run says on standard input where the engine is not to end with it."""
END_WITHIN_S = 5.0
"""An engine that ends so soon after a Ctrl-C was meant to."""
QUICK_DEATH_S = 2.0
QUICK_DEATHS = 8
"""Dying this often without living ``QUICK_DEATH_S`` in between is not an accident."""


def supervise(show: str, options: Sequence[str] = (), *, borrowed: bool = False) -> int:
    """Runs the engine of a show until it ends by itself; returns its exit status.

    ``borrowed``: it also ends when standard input does without a word, but for a desk that is locked.

    The engine inherits standard output and error. SIGTERM and SIGINT are passed on to it; it may ask for a
    second SIGINT (Ctrl-C) and go on without one. SIGHUP (a closed window) is not heard.
    """
    child: subprocess.Popen[bytes] | None = None
    spare: subprocess.Popen[bytes] | None = None
    ending = False
    interrupted_at = -END_WITHIN_S

    def end(_number: int, _frame: object) -> None:
        nonlocal ending
        ending = True
        if child is not None and child.poll() is None:
            child.send_signal(signal.SIGTERM)

    def interrupt(number: int, frame: object) -> None:
        nonlocal interrupted_at
        if not OWN_GROUP or child is None or child.poll() is not None:
            end(number, frame)
            return
        interrupted_at = time.monotonic()
        child.send_signal(signal.SIGINT)

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, interrupt)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
    if borrowed:
        when_left(lambda: interrupt(signal.SIGINT, None))

    arguments = [show, *options]
    resuming = [*arguments, "--resumed"]
    quick_deaths = 0
    while True:
        started = time.monotonic()
        try:
            child = woken(spare) or start(arguments)
            spare = None
            if ending:  # the signal came before there was a child to pass it on to
                child.send_signal(signal.SIGTERM)
            try:
                status = child.wait(SPARE_AFTER_S)
            except subprocess.TimeoutExpired:
                with contextlib.suppress(OSError):  # no room for it: the next start does its imports then
                    spare = start([SPARE, *resuming], stdin=subprocess.PIPE)
                status = child.wait()
        except OSError as error:  # no memory, no process left: the next moment may have one
            say(f"the engine could not be started ({error.strerror})")
            status = 1
        meant = ending or time.monotonic() < interrupted_at + END_WITHIN_S
        if meant or status in (EXIT_DONE, EXIT_CANNOT_START):
            dismiss(spare)
            return status
        quick_deaths = quick_deaths + 1 if time.monotonic() - started < QUICK_DEATH_S else 1
        if quick_deaths > QUICK_DEATHS:
            say(
                f"the engine of {show} died {quick_deaths} times in a row and was given up; "
                "its log says why, `onecrew open` starts it again"
            )
            return 1
        say(f"the engine died (status {status}) and is started again")
        if quick_deaths > 2:
            time.sleep(0.1 * quick_deaths)
        if ending:
            dismiss(spare)
            return EXIT_DONE
        arguments = resuming


def when_left(end: Callable[[], None]) -> None:
    """Calls ``end`` when whoever holds the other side of standard input is gone and did not say ``STAY``.

    The system closes it whatever that process dies of, and nobody has to look for it.
    """

    def wait() -> None:
        if not os.read(0, len(STAY)):
            say("the run that this engine was started for is gone, so it ends")
            end()

    threading.Thread(target=wait, daemon=True).start()


def start(arguments: Sequence[str], stdin: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    """Starts an engine; raises ``OSError`` where there is no room for one."""
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "onecrew.engine", *arguments],
        stdin=stdin,
        start_new_session=OWN_GROUP,
        env={**SMALL, **os.environ, SUPERVISOR: str(os.getpid())},
        creationflags=ABOVE_NORMAL,
    )


def woken(spare: subprocess.Popen[bytes] | None) -> subprocess.Popen[bytes] | None:
    """Returns the spare as the engine that it now is; None where there is none that lives."""
    if spare is None or spare.stdin is None:
        return None
    if spare.poll() is not None:
        dismiss(spare)
        return None
    try:
        with spare.stdin as line:
            line.write(b"go\n")
    except OSError:
        return None
    return spare


def dismiss(spare: subprocess.Popen[bytes] | None) -> None:
    """Ends a spare that nobody will need, and closes the line to it."""
    if spare is not None and spare.stdin is not None:
        spare.kill()
        spare.wait()
        spare.stdin.close()


def say(sentence: str) -> None:
    """A line on standard error, if there still is one: the window may be closed, the log's disk full."""
    with contextlib.suppress(OSError):
        sys.stderr.write(f"onecrew: {printable(sentence)}\n")


if __name__ == "__main__":
    words = [word for word in sys.argv[2:] if word != BORROWED]
    sys.exit(supervise(sys.argv[1], words, borrowed=BORROWED in sys.argv))
