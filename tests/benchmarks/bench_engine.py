"""The engine as a process: how soon, how steadily, how small. DEVELOPERS.md lists the goals.

Every number is taken at a receiver on loopback and at the link, from outside the engine.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, closing, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import psutil

from tests.benchmarks.link import BareLink
from tests.benchmarks.report import Row
from tests.process.sandbox import SHOW, PacketReceiver, Sandbox, kill

COMMANDS = 200
FADE_S = 20.0
RESTARTS = 5
CROWDED_S = 6.0
VISITORS = 200


def rows() -> Iterable[Row]:
    yield from starting()
    yield from commanding()
    yield from dying()
    yield from fading()
    yield from visited()
    yield from crowded()


def starting() -> Iterator[Row]:
    times = []
    for _ in range(RESTARTS):
        with a_house() as sandbox:
            begun = time.monotonic()
            sandbox.engine()
            sandbox.receiver.wait(lambda packet: True)
            times.append(sandbox.receiver.packets[0][0] - begun)
    yield row_max(
        "engine start → first packet (supervisor and interpreter included)",
        statistics.median(times),
        0.5,
        "s",
    )


def commanding() -> Iterator[Row]:
    """A level set on a lamp at rest, 200 times: command written → changed packet heard; a bare loop by turns.

    At rest means that the repeats of the change before are out and no keep-alive is near: the 44 Hz limit
    holds back what comes sooner, whatever the engine does.
    """
    with a_house() as sandbox, closing(PacketReceiver()) as answers:
        sandbox.engine()
        status, endpoint = sandbox.status(), sandbox.endpoint()
        assert endpoint is not None and status is not None
        delays, bare = [], []
        with BareLink(endpoint) as link, a_bare_loop(answers.port, status["engine_pid"]) as loop:
            link.command({"kind": "set", "fixtures": ["window"], "level": 0.5})
            for step in range(COMMANDS):
                time.sleep(0.15 + 0.0007 * (step % 29))
                mark = len(sandbox.receiver.packets)
                level = 0.3 + 0.001 * step
                wanted = int(level * 65535 + 0.5)
                written = link.command({"kind": "set", "fixtures": ["window"], "level": level})
                delays.append(arrival(sandbox, mark, wanted) - written)
                time.sleep(0.15)
                mark, written = len(answers.packets), time.monotonic()
                loop.sendall(b"a line\n")
                answers.wait(lambda packet: True, mark)
                bare.append(answers.packets[mark][0] - written)
        name = "control: a bare loop from TCP to UDP, median"
        yield Row(name, f"{statistics.median(bare) * 1e3:.3g} ms", "", "", True)
        yield row_max("command → changed packet, median", statistics.median(delays) * 1e3, 0.7, "ms")
        yield row_max("command → changed packet, p99", quantile(delays, 0.99) * 1e3, 1.5, "ms")


@contextmanager
def a_bare_loop(port: int, engine: int) -> Iterator[socket.socket]:
    """A connection to the control, which sends to ``port`` in the engine's scheduling class."""
    command = [sys.executable, "-m", "tests.benchmarks.bare_loop", str(port), str(engine)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            with socket.create_connection(("127.0.0.1", int(process.stdout.readline()))) as loop:
                loop.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                yield loop
        finally:
            process.kill()


def dying() -> Iterator[Row]:
    gaps, dark = [], 0
    with a_house() as sandbox:
        sandbox.engine()
        sandbox.send("recall", "1", "in", "0s")
        for _ in range(RESTARTS):
            status = sandbox.wait_status(lambda status: status["cue"] == "1")
            sandbox.successor()
            time.sleep(
                2.5
            )  # longer than what the supervisor calls a quick death, and than the spare's imports
            mark = len(sandbox.receiver.packets)
            killed = time.monotonic()
            kill(status["engine_pid"])
            sandbox.receiver.wait(lambda packet: True, mark)
            gaps.append(sandbox.receiver.packets[mark][0] - killed)
            dark += sandbox.receiver.packets[mark][1].slots[:2] != b"\x80\x00"
            pid = status["engine_pid"]
            sandbox.wait_status(lambda now, pid=pid: now["engine_pid"] != pid)  # type: ignore[misc]
    yield row_max("engine killed → packets again, median of 5", statistics.median(gaps), 0.5, "s")
    yield row_max("first packets after a kill that do not carry the look", dark, 0, "packets")


def fading() -> Iterator[Row]:
    """A 16-fixture fade with a client that reads the state at 15 Hz; then rest."""
    with a_house(big_show(16)) as sandbox:
        sandbox.engine()
        endpoint = sandbox.endpoint()
        assert endpoint is not None
        engine = psutil.Process(endpoint["pid"])
        with BareLink(endpoint, watch_hz=15) as link:
            link.command({"kind": "recall", "cue": "1", "fade_s": FADE_S})
            time.sleep(0.5)
            mark = len(sandbox.receiver.packets)
            used, begun = sum(engine.cpu_times()[:2]), time.monotonic()
            time.sleep(FADE_S - 2.0)
            share = (sum(engine.cpu_times()[:2]) - used) / (time.monotonic() - begun)
            moments = [moment for moment, _ in sandbox.receiver.packets[mark:]]
        gaps = [(b - a) * 1e3 for a, b in pairwise(moments)]
        middle = statistics.median(gaps)
        yield row_max(
            "frame interval in a fade: p99 away from the median",
            quantile([abs(g - middle) for g in gaps], 0.99),
            1.5,
            "ms",
        )
        yield row_max(f"frame interval in a fade: longest of {len(gaps)}", max(gaps), 35.0, "ms")
        yield row_max("CPU in a 16-fixture fade, a client attached", share * 100, 7.0, "% of one core")
        time.sleep(3.0)
        used, begun = sum(engine.cpu_times()[:2]), time.monotonic()
        time.sleep(8.0)
        share = (sum(engine.cpu_times()[:2]) - used) / (time.monotonic() - begun)
        yield row_max("CPU at rest", share * 100, 0.5, "% of one core")
        memory = engine.memory_full_info()
        yield row_max("engine memory, its own share (PSS)", memory.pss / 1e6, 50.0, "MB")
        yield row_max("engine memory, resident with all shared libraries (RSS)", memory.rss / 1e6, 50.0, "MB")


def visited() -> Iterator[Row]:
    """Two hundred clients come at once in the middle of a fade, watch for two seconds, and go."""
    with a_house(big_show(16)) as sandbox:
        sandbox.engine()
        endpoint = sandbox.endpoint()
        assert endpoint is not None
        with BareLink(endpoint) as link, ExitStack() as crowd:
            link.command({"kind": "recall", "cue": "1", "fade_s": FADE_S})
            time.sleep(0.5)
            mark = len(sandbox.receiver.packets)
            for _ in range(VISITORS):
                crowd.enter_context(BareLink(endpoint, watch_hz=15))
            time.sleep(2.0)
            crowd.close()
            sandbox.receiver.catch_up()
            gaps = [(b - a) * 1e3 for (a, _), (b, _) in pairwise(sandbox.receiver.packets[mark:])]
        yield row_max(f"frame interval while {VISITORS} clients come and go: longest", max(gaps), 35.0, "ms")


def crowded() -> Iterator[Row]:
    """The same fade while other programs want every processor, with the engine's real-time right or not."""
    with a_house(big_show(16)) as sandbox:
        sandbox.engine()
        endpoint = sandbox.endpoint()
        assert endpoint is not None
        granted = hasattr(os, "SCHED_RR") and os.sched_getscheduler(endpoint["pid"]) & 0xFF == os.SCHED_RR
        standings: list[tuple[str, int | None]] = [
            ("real-time priority granted" if granted else "no real-time priority granted", None)
        ]
        if granted:
            standings.append(("without it", os.SCHED_OTHER))
        burner = [sys.executable, "-c", "while True: pass"]
        burners = [subprocess.Popen(burner) for _ in range(1 + (os.cpu_count() or 1))]
        try:
            with BareLink(endpoint, watch_hz=15) as link:
                for words, policy in standings:
                    if policy is not None:
                        os.sched_setscheduler(endpoint["pid"], policy, os.sched_param(0))
                    link.command({"kind": "set", "fixtures": [f"lamp{n}" for n in range(16)], "level": 0.0})
                    link.command({"kind": "recall", "cue": "1", "fade_s": FADE_S})
                    time.sleep(0.5)
                    mark = len(sandbox.receiver.packets)
                    time.sleep(CROWDED_S)
                    gaps = [(b - a) * 1e3 for (a, _), (b, _) in pairwise(sandbox.receiver.packets[mark:])]
                    middle = statistics.median(gaps)
                    off = quantile([abs(gap - middle) for gap in gaps], 0.99)
                    measured = f"p99 {off:.2f} ms from the median, longest {max(gaps):.1f} ms"
                    yield Row(
                        f"frame interval, every processor wanted by others, {words}", measured, "", "", True
                    )
        finally:
            for one in burners:
                one.kill()
                one.wait()


# ── Small print ─────────────────────────────────────────────────────────────────────────────────────


def row_max(name: str, measured: float, goal: float, unit: str) -> Row:
    """A row whose goal is an upper bound."""
    ratio = f"{measured / goal:.2f} of the goal" if goal else "–"
    return Row(name, f"{measured:.3g} {unit}", ratio, f"≤ {goal:g} {unit}", measured <= goal)


def arrival(sandbox: Sandbox, mark: int, dimmer: int) -> float:
    """When the packet with this 16-bit dimmer came."""
    deadline = time.monotonic() + 2.0
    while time.monotonic() < deadline:
        for moment, packet in sandbox.receiver.packets[mark:]:
            if packet.slots[0] * 256 + packet.slots[1] == dimmer:
                return moment
        time.sleep(0.001)
    raise RuntimeError("the changed packet never came")


def quantile(values: list[float], q: float) -> float:
    return sorted(values)[min(len(values) - 1, int(q * len(values)))]


def big_show(fixtures: int) -> dict[str, Any]:
    rig = [
        {
            "id": f"lamp{index}",
            "profile": "spot-six",
            "mode": "16-bit",
            "universe": 1,
            "address": 1 + 14 * index,
            "role": "fill",
        }
        for index in range(fixtures)
    ]
    look = {lamp["id"]: {"level": 0.9, "white": {"cct_k": 2800.0 + 100 * i}} for i, lamp in enumerate(rig)}
    return {**SHOW, "rig": {"fixtures": rig}, "cues": [{"number": "1", "look": look}]}


@contextmanager
def a_house(show: dict[str, Any] | None = None) -> Iterator[Sandbox]:
    with tempfile.TemporaryDirectory() as folder:
        sandbox = Sandbox(Path(folder), show)
        try:
            yield sandbox
        finally:
            sandbox.close()
