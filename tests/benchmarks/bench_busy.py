"""The fade of ``bench_soak`` for an ordinary user, beside more programs that never rest than there are cores.

Without the real-time right, a bare sender beside it. One run says little, since on a busy machine the control
is off by anything from 2 to 20 ms from run to run: so it is some runs, the difference of each to the control
beside it, and the median of those; late intervals are counted over all of them. A second control takes as
much processor as the engine may: whoever works more waits longer for a core that others want.
"""

from __future__ import annotations

import contextlib
import os
import statistics
import subprocess
import sys
from collections.abc import Iterable, Iterator

from onecrew.engine.frame_clock import FRAME_S
from tests.benchmarks.bench_engine import a_house
from tests.benchmarks.bench_soak import (
    MORE_S,
    bare_sender,
    beside,
    every_kind,
    measured,
    timing,
)
from tests.benchmarks.report import Row
from tests.process.sandbox import ORDINARY, PacketReceiver

RUNS = 7
RUN_S = 45.0
WORK_S = 0.05 * FRAME_S
"""Processor that the second control takes for each packet: the engine's goal without a client."""
LONGEST_S = 3.0 * RUNS * RUN_S
"""The programs that never rest end by themselves then."""


def rows() -> Iterable[Row]:
    busy = (os.cpu_count() or 1) + 1
    with contextlib.ExitStack() as stack:
        working = stack.enter_context(contextlib.closing(PacketReceiver()))
        sandbox = stack.enter_context(a_house(every_kind()))
        sandbox.prefix = ORDINARY
        engine, control = stack.enter_context(beside(sandbox))
        stack.enter_context(never_resting(busy))
        bare_sender(sandbox, working, engine.pid, WORK_S)
        runs, worked = [], []
        for number in range(RUNS):
            mark = len(working.packets)
            run = measured(sandbox, engine, control, RUN_S)
            worked.append(timing([moment for moment, _ in working.packets[mark:]]))
            yield Row(f"run {number + 1}: control", str(run.control), "", "", True)
            yield Row(f"run {number + 1}: control that works", str(worked[-1]), "", "", True)
            yield Row(
                f"run {number + 1}: engine", str(run.engine), f"{1e3 * run.further_s:+.2f} ms", "", True
            )
            runs.append(run)
    further_s = statistics.median(run.further_s for run in runs)
    yield Row(
        f"p99 beyond the control's, median of {RUNS}, {busy} programs that never rest",
        f"{1e3 * further_s:+.2f} ms",
        "",
        f"≤ {1e3 * MORE_S:g} ms",
        further_s <= MORE_S,
    )
    further_s = statistics.median(run.engine.off_s - w.off_s for run, w in zip(runs, worked, strict=True))
    yield Row("the same, of the control that works", f"{1e3 * further_s:+.2f} ms", "", "", True)
    late, theirs = sum(run.engine.late for run in runs), sum(run.control.late for run in runs)
    both = f"control {theirs}, that works {sum(one.late for one in worked)}"
    yield Row("intervals over 35 ms in all", str(late), both, "no more", late <= theirs)
    yield Row("load average after", "{:.2f} {:.2f} {:.2f}".format(*os.getloadavg()), "", "", True)


@contextlib.contextmanager
def never_resting(number: int) -> Iterator[None]:
    """So many programs beside that take all the processor they get, each in a session of its own."""
    spin = f"import time\nend = time.monotonic() + {LONGEST_S}\nwhile time.monotonic() < end: pass"
    programs = [subprocess.Popen([sys.executable, "-c", spin], start_new_session=True) for _ in range(number)]
    try:
        yield
    finally:
        for program in programs:
            program.kill()
            program.wait()
