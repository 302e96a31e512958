"""Clocks: the time of this machine's present run, which nobody can set, and what the wall's says of it."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

_CLOCK: int | None = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
"""While the machine sleeps this one goes on; Python's monotonic clock stands still on Linux and macOS."""


def since_boot() -> float:
    """Seconds, the same ones in every process of this machine until it is started anew."""
    return time.monotonic() if _CLOCK is None else time.clock_gettime(_CLOCK)


def on_the_wall(moment: float, wall: Callable[[], float], clock: Callable[[], float]) -> float:
    """When ``moment`` of ``clock`` is by ``wall`` as it goes now, seconds since 1970."""
    return wall() - (clock() - moment)


@cache
def boot() -> str:
    """Names the present run of this machine, where the system says."""
    with contextlib.suppress(OSError):
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    return ""
