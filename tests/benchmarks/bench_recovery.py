"""How soon the light is itself again: a killed engine, a lost network, killed screens, a standby.

Taken at a receiver, with the kernel's times of arrival. Run ``python -m tests.benchmarks recovery``.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Protocol

from tests.benchmarks.bench_engine import a_house, row_max
from tests.benchmarks.report import Row
from tests.process.namespaces import Namespaces
from tests.process.sandbox import SHOW, Sandbox, kill
from tests.process.test_crashes import level
from tests.process.test_faults_network import InjectedCable, RealCable
from tests.process.test_faults_terminal import window
from tests.process.test_standby import CHAIN, Pair, free_port
from tests.wire.arbiter import LOSS_S, shown
from tests.wire.e131_layout import Packet

KILLS = 8
QUICK_DEATH_S = 2.0
"""A supervisor that sees several deaths within this waits a little before it starts the next engine."""
CUTS = 8
FADE_S = 30.0


def rows() -> Iterable[Row]:
    yield load("before")
    yield from killed()
    yield from cut_off()
    yield from screens()
    yield from pair()
    yield load("after")


def load(when: str) -> Row:
    return Row(f"load average {when}", "{:.2f} {:.2f} {:.2f}".format(*os.getloadavg()), "", "", True)


def killed() -> Iterator[Row]:
    """An engine killed again and again in one long fade: how long is silence, and what comes first."""
    silences, steps = [], []
    with a_house() as sandbox:
        sandbox.engine()
        sandbox.tell(kind="recall", cue="2", fade_s=FADE_S)
        pid = sandbox.wait_status(lambda status: status["lights"]["window"]["level"] > 0.01)["engine_pid"]
        sandbox.successor()
        time.sleep(QUICK_DEATH_S)
        for _ in range(KILLS):
            sandbox.receiver.catch_up()
            before = sandbox.receiver.packets[-1]
            mark = len(sandbox.receiver.packets)
            killed_at = time.monotonic()
            kill(pid)
            sandbox.receiver.catch_up()
            while (
                mark < len(sandbox.receiver.packets) and sandbox.receiver.packets[mark][0] < killed_at + 0.05
            ):
                before = sandbox.receiver.packets[mark]
                mark += 1
            sandbox.receiver.wait(lambda packet: True, mark)
            at, first = sandbox.receiver.packets[mark]
            silences.append(at - killed_at)
            steps.append((level(first) - level(before[1])) / 65535 - (at - before[0]) / FADE_S)
            pid = sandbox.wait_status(lambda now, pid=pid: now["engine_pid"] != pid)["engine_pid"]  # type: ignore[misc]
            sandbox.successor()
            time.sleep(QUICK_DEATH_S)  # the next engine has done its imports
    yield row_max(
        f"engine killed in a fade → packets again, median of {KILLS}", statistics.median(silences), 0.5, "s"
    )
    yield row_max("the same, the longest", max(silences), 0.7, "s")
    yield row_max(
        "light of the first packet, off from where the fade is then",
        max(map(abs, steps)) * 100,
        0.2,
        "% of full",
    )


class Cable(Protocol):
    sandbox: Sandbox

    def cut(self) -> None: ...
    def mend(self) -> None: ...
    def close(self) -> None: ...


def cut_off() -> Iterator[Row]:
    """A fade runs; the network goes and comes back.

    Now and then the longest is a second: the kernel asks for the lamp's hardware address as soon as the
    interface is up, that question is lost, and it asks again after a second. The packets wait in the kernel.
    """
    for kind, words in ((RealCable, "interface up"), (InjectedCable, "injected error gone")):
        if kind is RealCable and not Namespaces.possible():
            yield Row("network back (interface up)", "not measured: no namespaces here", "", "≤ 50 ms", True)
            continue
        with tempfile.TemporaryDirectory() as folder:
            cable: Cable = kind(Path(folder))
            try:
                delays = back_after_cuts(cable)
            finally:
                cable.close()
        name = f"network back ({words}) → first packet, median of {CUTS}"
        yield row_max(name, statistics.median(delays) * 1e3, 50, "ms")
        yield row_max("the same, the longest", max(delays) * 1e3, 50, "ms")


def back_after_cuts(cable: Cable) -> list[float]:
    sandbox = cable.sandbox
    sandbox.engine()
    sandbox.tell(kind="recall", cue="2", fade_s=FADE_S)
    delays = []
    for step in range(CUTS):
        time.sleep(0.3)
        cable.cut()
        time.sleep(0.3 + 0.007 * step)
        sandbox.receiver.catch_up()
        mark = len(sandbox.receiver.packets)
        mended = time.monotonic()
        cable.mend()  # the command that does it takes its milliseconds too
        sandbox.receiver.wait(lambda packet: True, mark)
        delays.append(sandbox.receiver.packets[mark][0] - mended)
    return delays


def screens() -> Iterator[Row]:
    """The terminal program is killed in a fade: what is missing, and the longest interval around it."""
    missing, longest = 0, 0.0
    with a_house() as sandbox:
        sandbox.engine()
        for _ in range(3):
            sandbox.tell(kind="set", fixtures=["window"], level=0.0)
            screen = window(sandbox, "open", str(sandbox.show))
            try:
                screen.expect("F1")
                sandbox.tell(kind="recall", cue="2", fade_s=3.0)
                time.sleep(1.0)
                sandbox.receiver.catch_up()
                mark = len(sandbox.receiver.packets)
                kill(screen.pid)
                time.sleep(1.0)
                sandbox.receiver.catch_up()
            finally:
                kill(screen.pid)
                screen.close(force=True)
            around = sandbox.receiver.packets[mark - 10 : mark + 40]
            missing += sum((b.sequence - a.sequence - 1) % 256 for (_, a), (_, b) in pairwise(around))
            longest = max(longest, *(b - a for (a, _), (b, _) in pairwise(around)))
    yield row_max("screens killed in a fade, three times: packets missing", missing, 0, "packets")
    yield row_max("longest frame interval around that", longest * 1e3, 35.0, "ms")


def pair() -> Iterator[Row]:
    """Two engines: how far apart their fades run, and what a receiver sees when the main one is gone."""
    with tempfile.TemporaryDirectory() as folder:
        homes = [Path(folder) / name for name in ("main", "other")]
        for home in homes:
            home.mkdir()
        main = Sandbox(homes[0], {**CHAIN, "cues": [*SHOW["cues"][:2], *CHAIN["cues"][2:]]})
        other = Sandbox(homes[1], receiver=main.receiver)
        other.show.unlink()
        two = Pair(main, other, f"127.0.0.1:{free_port()}")
        try:
            two.start()
            main.tell(kind="recall", cue="2", fade_s=8.0)
            time.sleep(4.0)
            main.receiver.catch_up()
            late = behind(two.packets(100), two.packets(90))
            two.kill_main()
            gone = two.packets(100)[-1][0]
            time.sleep(LOSS_S + 0.5)
            main.receiver.catch_up()
            changed = next(
                s
                for s in shown(main.receiver.packets)
                if s.packet and s.packet.priority == 90 and s.at > gone
            )
            later = [s for s in shown(main.receiver.packets) if s.packet and s.at > changed.at]
        finally:
            other.close_processes()
            main.close()
    yield row_max("standby: its fade against the main engine's, median apart", abs(late) * 1e3, 2.0, "ms")
    yield row_max(
        "standby: main engine's last packet → receivers show the next of the standby (2.5 s by the standard)",
        later[0].at - gone,
        LOSS_S + 0.05,
        "s",
    )


def behind(main: list[tuple[float, Packet]], other: list[tuple[float, Packet]]) -> float:
    """Median time by which the same level comes later from the other, by interpolation in the fade."""
    rising = [(at, level(packet)) for at, packet in main if 3000 < level(packet) < 60000]
    delays = []
    for at, packet in other:
        mine = level(packet)
        for (t0, v0), (t1, v1) in pairwise(rising):
            if v0 <= mine < v1:
                delays.append(at - (t0 + (t1 - t0) * (mine - v0) / (v1 - v0)))
    return statistics.median(delays)
