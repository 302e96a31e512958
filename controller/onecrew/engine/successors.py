"""Successors: where the engines of a supervisor come from, the first one and each in the place of a dead one.

Most of the time until the light moves again would go into imports, so a process that has done them waits.
Where the system lets a supervisor adopt orphans (Linux), it forks every engine: the next one is there at any
time, and shares memory with it. Elsewhere it becomes the next engine itself.

Imports nothing but the standard library: the supervisor has it.
"""

from __future__ import annotations

import contextlib
import os
import select
import subprocess
import sys
from collections.abc import Sequence
from typing import Protocol

PRELOADED = "--preloaded"
"""First word of a process that does an engine's imports, then forks an engine for each line on standard
input, which is its last words. The second word is the file descriptor to which each writes its process id."""
SPARE = "--spare"
"""First word of one that does its imports, then becomes an engine by a line on standard input. The end of the
input ends either."""
SPARE_AFTER_S = 1.0
"""The engine has lived so long before the next one is made ready: a start has the processor to itself."""
OWN_GROUP = os.name == "posix"
"""Ctrl-C at the terminal reaches the supervisor alone, which passes it on once."""
SMALL = {
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "PYDANTIC_DISABLE_PLUGINS": "1",
    "PYTHONTZPATH": "",
}
"""The engine's arrays are small: more threads in the linear algebra cost memory and make frames unsteady.
There are no plugins of pydantic: looking for some takes time at each start. It brings in time zones, which
nobody uses: to find out where they are, Python would read all that it was built with, 0.2 MB."""
ABOVE_NORMAL = int(getattr(subprocess, "ABOVE_NORMAL_PRIORITY_CLASS", 0))
"""To run before other programs: on Windows set at the start, elsewhere asked for by the engine."""
SUPERVISOR = "ONECREW_SUPERVISOR"
"""Environment variable by which an engine knows the process that starts it again."""
FORKED_WITHIN_S = 2.0
"""What has forked an engine before and takes longer for the next is stopped, or that one died before it could
say its process id."""
PR_SET_CHILD_SUBREAPER = 36
"""prctl(2)."""


class Engine(Protocol):
    """An engine that was started. ``poll()`` is None while it is not known that it ended."""

    def poll(self) -> int | None: ...
    def send_signal(self, sig: int, /) -> None: ...


class Successors(Protocol):
    """Engines of one show, one after the other."""

    def start(self, last_words: Sequence[str]) -> Engine:
        """Starts an engine; raises ``OSError`` where there is no room for one."""

    def wait(self) -> int:
        """Returns the exit status of the engine started last; makes ready what comes after it."""

    def give_up(self) -> None:
        """Whatever is on its way to be an engine ends. Safe in a signal handler."""

    def close(self) -> None:
        """Ends what will not be needed."""


def successors(arguments: Sequence[str], output: int) -> Successors:
    """The way of this system. ``arguments``: of every engine; ``output``: file descriptor for their words."""
    return Forked(arguments, output) if adopts_orphans() else Spawned(arguments, output)


def adopts_orphans() -> bool:
    """Makes this process the parent of those descendants whose own parent ends; false where it cannot be."""
    if sys.platform == "linux":
        with contextlib.suppress(ImportError, OSError, AttributeError):
            import ctypes

            return bool(ctypes.CDLL(None).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0) == 0)
    return False


def bury_orphans() -> None:
    """Takes note of the end of what was adopted and is no engine, as a phone page whose engine died."""
    with contextlib.suppress(ChildProcessError):
        while os.waitpid(-1, os.WNOHANG)[0]:
            pass


# ── forked ──────────────────────────────────────────────────────────────────────────────────────────


class Orphan:
    """An engine that this process adopted."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self._status: int | None = None

    def wait(self) -> int:
        if self._status is None:
            ended = os.waitid(os.P_PID, self._pid, os.WEXITED | os.WNOWAIT)
            assert ended is not None
            # Known before its number may become another process's: a signal handler may come in between.
            self._status = ended.si_status if ended.si_code == os.CLD_EXITED else -ended.si_status
            os.waitpid(self._pid, 0)
        return self._status

    def poll(self) -> int | None:
        return self._status

    def send_signal(self, sig: int, /) -> None:
        if self._status is None:
            os.kill(self._pid, sig)


class Forked:
    """Engines forked by a process that has loaded what they are made of; where it is gone, by a new one."""

    def __init__(self, arguments: Sequence[str], output: int) -> None:
        self._arguments = list(arguments)
        self._output = output
        self._preloaded: subprocess.Popen[bytes] | None = None
        self._engine: Orphan | subprocess.Popen[bytes] | None = None
        self._told = -1
        """File descriptor on which it says the process id of a new engine."""
        self._given_up = False

    def start(self, last_words: Sequence[str]) -> Engine:
        """Where what is to fork cannot be loaded, that is what ends in place of an engine."""
        bury_orphans()
        pid = self._asked(last_words, FORKED_WITHIN_S)
        if not pid:
            self.close()
            self._load(last_words)
            if self._given_up:  # by a signal that came before there was a process to end
                self.give_up()
            pid = self._asked(last_words, None)
        assert self._preloaded is not None
        self._engine = Orphan(pid) if pid else self._preloaded
        return self._engine

    def wait(self) -> int:
        assert self._engine is not None
        return self._engine.wait()

    def give_up(self) -> None:
        self._given_up = True
        if self._preloaded is not None:
            self._preloaded.kill()

    def close(self) -> None:
        dismiss(self._preloaded)
        if self._told >= 0:
            os.close(self._told)
        self._preloaded, self._told = None, -1

    def _load(self, last_words: Sequence[str]) -> None:
        self._told, number = os.pipe()
        try:
            self._preloaded = started(
                [PRELOADED, str(number), *self._arguments, *last_words],
                self._output,
                stdin=subprocess.PIPE,
                pass_fds=[number],
            )
        finally:
            os.close(number)

    def _asked(self, last_words: Sequence[str], within_s: float | None) -> int:
        """The process id of a new engine; 0 where nobody forks one, or it takes so long that none is to."""
        if self._preloaded is None or not told(self._preloaded, last_words):
            return 0
        if not select.select([self._told], [], [], within_s)[0]:
            self._preloaded.kill()  # an engine that it is just forking still says its process id
        return int(os.read(self._told, 32) or 0)


# ── spawned ─────────────────────────────────────────────────────────────────────────────────────────


class Spawned:
    """Engines that are started, each with a spare one beside it that waits to take its place."""

    def __init__(self, arguments: Sequence[str], output: int) -> None:
        self._arguments = list(arguments)
        self._output = output
        self._engine: subprocess.Popen[bytes] | None = None
        self._spare: subprocess.Popen[bytes] | None = None

    def start(self, last_words: Sequence[str]) -> Engine:
        spare, self._spare = self._spare, None
        if told(spare, last_words):
            assert spare is not None and spare.stdin is not None
            spare.stdin.close()
            self._engine = spare
        else:
            dismiss(spare)
            self._engine = started([*self._arguments, *last_words], self._output)
        return self._engine

    def wait(self) -> int:
        assert self._engine is not None
        try:
            return self._engine.wait(SPARE_AFTER_S)
        except subprocess.TimeoutExpired:
            with contextlib.suppress(OSError):  # no room for it: the next start does its imports then
                self._spare = started([SPARE, *self._arguments], self._output, stdin=subprocess.PIPE)
            return self._engine.wait()

    def give_up(self) -> None:
        """Nothing is: what was started is the engine."""

    def close(self) -> None:
        dismiss(self._spare)


# ── processes ───────────────────────────────────────────────────────────────────────────────────────


def started(
    arguments: Sequence[str], output: int, stdin: int = subprocess.DEVNULL, pass_fds: Sequence[int] = ()
) -> subprocess.Popen[bytes]:
    """Starts an engine, or what becomes one; raises ``OSError`` where there is no room for it."""
    return subprocess.Popen(
        [sys.executable, "-P", "-X", "no_debug_ranges", "-m", "onecrew.engine", *arguments],
        stdin=stdin,
        stdout=output,
        start_new_session=OWN_GROUP,
        env={**SMALL, **os.environ, SUPERVISOR: str(os.getpid())},
        creationflags=ABOVE_NORMAL,
        pass_fds=pass_fds,
        bufsize=0,
    )


def told(process: subprocess.Popen[bytes] | None, last_words: Sequence[str]) -> bool:
    """Whether there is a process to tell the last words of an engine to, and they were told."""
    if process is None or process.stdin is None or process.poll() is not None:
        return False
    with contextlib.suppress(OSError):
        process.stdin.write(f"{' '.join(last_words)}\n".encode())
        return True
    return False


def dismiss(process: subprocess.Popen[bytes] | None) -> None:
    """Ends a process that nobody will need, and closes the line to it."""
    if process is not None and process.stdin is not None:
        process.kill()
        process.wait()
        process.stdin.close()
