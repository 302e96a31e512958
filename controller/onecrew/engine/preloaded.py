"""Preloaded: a process that has loaded what an engine is made of, and becomes one or forks some when told.

An engine that was forked shares with this process the memory that neither of them changes.
"""

from __future__ import annotations

import errno
import gc
import os
import sys
import time
from collections.abc import Sequence

from onecrew.engine.libraries import give_back, note_libraries
from onecrew.engine.realtime import step_forward


def wait_for_line(arguments: Sequence[str]) -> list[str] | None:
    """Returns the arguments of the engine that this process now is, None when the input ends."""
    line = sys.stdin.readline()
    return [*arguments, *line.split()] if line else None


def fork_engines(arguments: Sequence[str], told: int) -> list[str] | None:
    """Forks an engine for each line on standard input, which holds its last words.

    Returns in each of these engines, with its arguments; in this process None, when the input ends. An engine
    is a child of whoever adopts its orphans, not of this process. It writes its process id to the file
    descriptor ``told`` once it was adopted; where nobody reads that any more, None is returned in it, too.
    Raises ``OSError`` where there is no room for an engine.
    """
    gc.collect()
    gc.freeze()  # what is shared stays so: looking through it would copy it
    note_libraries()
    give_back()
    while line := os.read(0, 256):
        between = os.fork()
        if between:
            if os.waitpid(between, 0)[1]:
                raise BlockingIOError(errno.EAGAIN, os.strerror(errno.EAGAIN))
        elif _is_engine(told):
            return [*arguments, *line.decode().split()]
        else:
            break
    return None


def _is_engine(told: int) -> bool:
    """Forks once more and ends the process between, so that the engine is adopted; false: nobody wants it."""
    step_forward()
    between = os.getpid()
    try:
        if os.fork():
            os._exit(0)
    except OSError:
        os._exit(1)
    while os.getppid() == between:
        time.sleep(0.001)
    os.setsid()
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    try:
        os.write(told, b"%d\n" % os.getpid())
    except BrokenPipeError:
        return False
    finally:
        os.close(told)
    return True
