"""A long fade of one lamp of every kind with the screens attached, and a bare sender beside it.

The bare sender does nothing but send, at the same rate and in the same scheduling class; what is late there
is the machine's doing. With the real-time right where this user has it, and without. ``--minutes`` says how
long each half takes; 10 is the figure in DEVELOPERS.md.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import pexpect
import psutil

from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles
from tests.benchmarks.bench_engine import a_house, quantile
from tests.benchmarks.report import Row
from tests.process.sandbox import ORDINARY, SHOW, WAIT_S, PacketReceiver, Sandbox

SENDER = Path(__file__).with_name("bare_sender.py")
MINUTES = 1.0
"""How long each half takes; ``python -m tests.benchmarks soak --minutes 10`` for the figure."""
FINE = "spot-six"
FADE_S = 20.0
SETTLE_S = 3.0
LATE_S = 0.035
MORE_S = 1e-3
"""How much further than the control's the engine's p99 may lie."""


@dataclass(frozen=True)
class Timing:
    """How evenly packets came."""

    packets: int
    off_s: float
    """99th percentile of an interval's distance from the median."""
    late: int
    """Intervals over 35 ms."""
    longest_s: float

    def __str__(self) -> str:
        return (
            f"p99 ± {1e3 * self.off_s:.2f} ms, {self.late} of {self.packets} over 35 ms, "
            f"longest {1e3 * self.longest_s:.1f} ms"
        )


@dataclass(frozen=True)
class Run:
    """One run of fades, and the control beside it."""

    engine: Timing
    control: Timing
    missing: int
    """Packets that never came."""
    processor: float
    """Of a core."""

    @property
    def further_s(self) -> float:
        """How much further off the engine's p99 lies than the control's."""
        return self.engine.off_s - self.control.off_s

    @property
    def more_late(self) -> int:
        """Intervals over 35 ms beyond the control's."""
        return self.engine.late - self.control.late


def rows() -> Iterable[Row]:
    for name, prefix, right in (("with", [], True), ("without", ORDINARY, False)):
        name = f"{name} the real-time right, {MINUTES:g} min"
        with a_house(every_kind()) as sandbox:
            sandbox.prefix = prefix
            with beside(sandbox) as (engine, control):
                if has_the_right(engine) == right:
                    yield from half(sandbox, engine, control, name, MINUTES * 60.0)
                else:
                    yield Row(name, "not measured: this user has it or has it not", "", "", True)
    yield Row("load average after", "{:.2f} {:.2f} {:.2f}".format(*os.getloadavg()), "", "", True)


def half(
    sandbox: Sandbox, engine: psutil.Process, control: PacketReceiver, name: str, for_s: float
) -> Iterator[Row]:
    """One run of fades, and what came of it."""
    run = measured(sandbox, engine, control, for_s)
    yield Row(f"control: a bare sender, {name}", str(run.control), "", "", True)
    yield Row(
        f"13 kinds fading, screens attached, {name}",
        str(run.engine),
        f"{1e3 * run.further_s:+.2f} ms of p99, {run.more_late:+d} late",
        "≤ control + 1 ms, no more late",
        run.further_s <= MORE_S and run.more_late <= 0,
    )
    yield Row(f"packets missing, {name}", str(run.missing), "", "0", run.missing == 0)
    yield Row(
        f"processor, {name}", f"{100 * run.processor:.1f} % of a core", "", "≤ 7 %", run.processor <= 0.07
    )
    memory = engine.memory_info().rss / 1e6
    yield Row(f"memory, resident, {name}", f"{memory:.1f} MB", "", "≤ 50 MB", memory <= 50.0)


def measured(sandbox: Sandbox, engine: psutil.Process, control: PacketReceiver, for_s: float) -> Run:
    """How it went for so long in fades that never rest."""
    fade(sandbox, "1")
    time.sleep(SETTLE_S)
    sandbox.receiver.catch_up()
    control.catch_up()
    ours, theirs = len(sandbox.receiver.packets), len(control.packets)
    begun, used = time.monotonic(), sum(engine.cpu_times()[:2])
    step = 0
    while (left := begun + for_s - time.monotonic()) > 0.0:
        step += 1
        fade(sandbox, "123"[step % 3])
        time.sleep(min(left, FADE_S / 2.0))  # broken off in the middle, so that the light never rests
    share = (sum(engine.cpu_times()[:2]) - used) / (time.monotonic() - begun)
    sandbox.receiver.catch_up()
    control.catch_up()
    packets = sandbox.receiver.packets[ours:]
    return Run(
        timing([moment for moment, _ in packets]),
        timing([moment for moment, _ in control.packets[theirs:]]),
        sum((b[1].sequence - a[1].sequence - 1) % 256 for a, b in pairwise(packets)),
        share,
    )


def has_the_right(engine: psutil.Process) -> bool:
    return hasattr(os, "SCHED_RR") and os.sched_getscheduler(engine.pid) & 0xFF == os.SCHED_RR


@contextlib.contextmanager
def beside(sandbox: Sandbox) -> Iterator[tuple[psutil.Process, PacketReceiver]]:
    """The engine, screens in a terminal that somebody looks at, and the control."""
    sandbox.engine()
    endpoint = sandbox.endpoint()
    assert endpoint is not None
    program, *words = sandbox.command("open", str(sandbox.show))
    env = {**sandbox.env, "TERM": "xterm-256color"}
    screens = pexpect.spawn(program, words, env=env, dimensions=(45, 140), timeout=WAIT_S)
    control = PacketReceiver()
    try:
        screens.expect("F1")
        looking = threading.Thread(target=drained, args=(screens,), daemon=True)
        looking.start()
        bare_sender(sandbox, control, endpoint["pid"])
        yield psutil.Process(endpoint["pid"]), control
    finally:
        screens.close(force=True)
        sandbox.close_processes()
        control.close()


def bare_sender(sandbox: Sandbox, to: PacketReceiver, engine: int, *work_s: float) -> None:
    """Starts a control that also takes ``work_s`` of processor after each packet, if that is said.

    In a session of its own, as the engine is: where the kernel schedules by session each has its share.
    """
    words = [sys.executable, str(SENDER), str(to.port), str(engine), *map(str, work_s)]
    sandbox.popen(words, own_session=True)


def drained(screens: pexpect.spawn) -> None:
    """Reads what the screens draw, as a terminal does."""
    with contextlib.suppress(pexpect.EOF, OSError, ValueError):
        while True:
            with contextlib.suppress(pexpect.TIMEOUT):
                screens.read_nonblocking(1 << 16, timeout=1.0)


def fade(sandbox: Sandbox, cue: str) -> None:
    sandbox.tell(kind="recall", cue=cue, fade_s=FADE_S)


def timing(moments: list[float]) -> Timing:
    gaps = [b - a for a, b in pairwise(moments)]
    middle = quantile(gaps, 0.5)
    off = quantile([abs(gap - middle) for gap in gaps], 0.99)
    return Timing(len(moments), off, sum(gap > LATE_S for gap in gaps), max(gaps))


def every_kind() -> dict[str, Any]:
    """A lamp of each of 13 shipped kinds, in one universe, and three looks to fade between.

    A frame that changes no slot sends no packet, which is not lateness. So one lamp has fine steps, and the
    looks are three: between two a fade that is turned round in the middle between two frames is in the second
    where it was in the first.
    """
    rig: list[dict[str, Any]] = []
    address = 1
    for profile in sorted(load_profiles([shipped("profiles")]).values(), key=lambda one: one.id)[:13]:
        mode = (profile.mode("16-bit") if profile.id == FINE else None) or profile.modes[0]
        place = {"universe": 1, "address": address, "role": "fill"}
        rig.append({"id": profile.id, "profile": profile.id, "mode": mode.name, **place})
        address += mode.width
    looks = [
        {lamp["id"]: {"level": level, "white": {"cct_k": cct_k}} for lamp in rig}
        for level, cct_k in ((0.9, 3400.0), (0.1, 4700.0), (0.5, 2900.0))
    ]
    cues = [{"number": str(index + 1), "look": look} for index, look in enumerate(looks)]
    return {**SHOW, "rig": {"fixtures": rig}, "cues": cues}
