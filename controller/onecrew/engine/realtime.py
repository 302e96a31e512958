"""RealTime: the engine runs before other programs' work, so that frames are steady on a busy machine.

Linux: the lowest real-time priority, else niceness. Either is granted to root and to users whose limits allow
it (``rtprio`` or ``nice`` in limits.conf, ``LimitRTPRIO=`` of a service). Niceness alone does little where
the system schedules by session, as desktops do. From Linux 6.12 on everybody may have their share of the
processor in short slices, which come sooner. What the engine starts inherits none of it. Windows is asked by
the supervisor.

The kernel stops a real-time thread for a twentieth of any second that it fills (sched(7)), which would be a
frame or two. So a thread that comes near that, in a flood of commands, steps back among the others until the
flood is over.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import platform
import struct
import sys
import time

AHEAD = -10
"""Change of niceness that is asked for where real time is refused."""
SLICE_NS = 100_000
"""The shortest slice that the kernel takes."""
SCHED_SETATTR = {"x86_64": 314, "aarch64": 274}
"""The number of the system call, by machine: Python has no name for it, nor have C libraries of its age."""
SCHED_ATTR = struct.Struct("=IIQiIQQQ")
"""sched_setattr(2): size, policy, flags, nice, priority, runtime (here the slice), deadline, period."""
LOOK_S = 0.25
BUSY, CALM = 0.6, 0.3
"""Shares of the processor at which the thread steps back, and forward again."""


class RealTime:
    """The standing of this thread. Make one in the thread that the event loop runs in."""

    def __init__(self) -> None:
        self.real_time = False
        self._looked_at = self._used = 0.0
        self._timer: asyncio.TimerHandle | None = None

    def ask(self) -> None:
        """Asks for it, and keeps looking after it in the running loop."""
        if self._ask_for_real_time():
            self._looked_at, self._used = time.monotonic(), time.thread_time()
            self._plan()
        elif hasattr(os, "nice"):
            with contextlib.suppress(OSError):
                os.nice(AHEAD)
            ask_for_short_slices()

    def close(self) -> None:
        """Looks after it no longer."""
        if self._timer is not None:
            self._timer.cancel()

    def _plan(self) -> None:
        self._timer = asyncio.get_running_loop().call_later(LOOK_S, self._look)

    def _look(self) -> None:
        now, used = time.monotonic(), time.thread_time()
        share = (used - self._used) / max(now - self._looked_at, 1e-6)
        self._looked_at, self._used = now, used
        if self.real_time and share > BUSY:
            self._step_back()
        elif not self.real_time and share < CALM:
            self._ask_for_real_time()
        self._plan()

    def _ask_for_real_time(self) -> bool:
        self.real_time = step_forward()
        return self.real_time

    def _step_back(self) -> None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_OTHER | os.SCHED_RESET_ON_FORK, os.sched_param(0))
            self.real_time = False
            ask_for_short_slices()


def step_forward() -> bool:
    """Asks for real time for this thread; true if it was granted."""
    if hasattr(os, "SCHED_RESET_ON_FORK"):
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR | os.SCHED_RESET_ON_FORK, os.sched_param(1))
            return True
    return False


def ask_for_short_slices() -> None:
    """Asks to have this thread's share of the processor in short slices, where the system knows of them."""
    call = SCHED_SETATTR.get(platform.machine())
    if sys.platform != "linux" or call is None:
        return
    import ctypes

    nice, reset_on_fork = os.getpriority(os.PRIO_PROCESS, 0), 1
    wish = SCHED_ATTR.pack(SCHED_ATTR.size, os.SCHED_OTHER, reset_on_fork, nice, 0, SLICE_NS, 0, 0)
    ctypes.CDLL(None).syscall(ctypes.c_long(call), 0, wish, 0)  # refused: everything stays as it is
