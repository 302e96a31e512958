"""From one universe to 64, from 8 lamps to 512: what a frame costs a running engine, and how even it stays.

Every number is of an engine as a process, all lamps fading, seen from outside: its processor time, and the
kernel's times of arrival at a receiver on this machine. Run ``python -m tests.benchmarks scale``.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Iterable
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import psutil

from tests.benchmarks.bench_engine import a_house, quantile
from tests.benchmarks.link import BareLink
from tests.benchmarks.report import Row
from tests.process.sandbox import SHOW

LOOK_S = 5.0
"""How long each case is watched."""
SETTLE_S = 1.0
KIND, MODE, WIDTH = "spot-six", "16-bit", 14
"""Six emitters, mixed in every frame; 16 bits, so that every frame of a slow fade differs."""


@dataclass(frozen=True)
class Seen:
    """One case."""

    universes: int
    fixtures: int
    watchers: int
    cpu: float
    """Share of one core."""
    frame_s: float
    """Processor time of a frame, all its universes sent."""
    rate_hz: float
    uneven_s: float
    """99th percentile of an interval's distance from the median."""
    longest_s: float
    missing: int


CASES = ((1, 8), (1, 32), (16, 64), (64, 64), (16, 512), (64, 512))


def rows() -> Iterable[Row]:
    yield Row("load average before", "{:.2f} {:.2f} {:.2f}".format(*os.getloadavg()), "", "", True)
    seen = {case: look(*case) for case in CASES}
    for one in seen.values():
        yield row(one)
    yield row(look(16, 64, watchers=1))
    yield row(look(16, 512, watchers=4))
    yield growth("8 → 32 lamps, one universe", seen[1, 8], seen[1, 32], 4)
    yield growth("64 → 512 lamps, 16 universes", seen[16, 64], seen[16, 512], 8)
    yield growth("16 → 64 universes, 64 lamps", seen[16, 64], seen[64, 64], 4)
    yield growth("16 → 64 universes, 512 lamps", seen[16, 512], seen[64, 512], 4)
    yield Row("load average after", "{:.2f} {:.2f} {:.2f}".format(*os.getloadavg()), "", "", True)


def row(seen: Seen) -> Row:
    name = f"{seen.universes} universes, {seen.fixtures} lamps" + (
        f", {seen.watchers} watching" if seen.watchers else ""
    )
    return Row(
        name,
        f"CPU {100 * seen.cpu:.1f} %, {1e6 * seen.frame_s:.0f} µs a frame, {seen.rate_hz:.1f} Hz",
        f"p99 ± {1e3 * seen.uneven_s:.2f} ms, longest {1e3 * seen.longest_s:.1f} ms, missing {seen.missing}",
        "none missing, none over 35 ms",
        seen.missing == 0 and seen.longest_s <= 0.035,
    )


def growth(name: str, small: Seen, large: Seen, times: int) -> Row:
    ratio = large.frame_s / small.frame_s
    each = (large.frame_s - small.frame_s) / (
        large.fixtures - small.fixtures or large.universes - small.universes
    )
    unit = "lamp" if large.fixtures != small.fixtures else "universe"
    return Row(name, f"{1e6 * each:.1f} µs a {unit}", f"{ratio:.1f} ×", f"≤ {times} ×", ratio <= times)


def look(universes: int, fixtures: int, *, watchers: int = 0) -> Seen:
    """Watches an engine in a long fade of all its lamps, spread evenly over its universes."""
    with a_house(show_of(universes, fixtures)) as sandbox:
        to = [f"127.0.0.1:{sandbox.receiver.port}"]
        document = sandbox.show.read_text().replace('"WHERE"', f'"{to[0]}"')
        sandbox.show.write_text(document)
        sandbox.engine()
        endpoint = sandbox.endpoint()
        assert endpoint is not None
        engine = psutil.Process(endpoint["pid"])
        with BareLink(endpoint) as link, ExitStack() as watching:
            for _ in range(watchers):
                watching.enter_context(BareLink(endpoint, watch_hz=15))
            link.command({"kind": "recall", "cue": "1", "fade_s": SETTLE_S + LOOK_S + 5.0})
            time.sleep(SETTLE_S)
            sandbox.receiver.catch_up()
            mark = len(sandbox.receiver.packets)
            used, begun = sum(engine.cpu_times()[:2]), time.monotonic()
            time.sleep(LOOK_S)
            used, took = sum(engine.cpu_times()[:2]) - used, time.monotonic() - begun
            sandbox.receiver.catch_up()
            heard = sandbox.receiver.packets[mark:]
    by_universe: dict[int, list[tuple[float, int]]] = {}
    for at, packet in heard:
        by_universe.setdefault(packet.universe, []).append((at, packet.sequence))
    assert len(by_universe) == universes
    gaps = [b[0] - a[0] for frames in by_universe.values() for a, b in pairwise(frames)]
    missing = sum((b[1] - a[1] - 1) % 256 for frames in by_universe.values() for a, b in pairwise(frames))
    middle = statistics.median(gaps)
    frames = statistics.median(len(frames) for frames in by_universe.values())
    return Seen(
        universes=universes,
        fixtures=fixtures,
        watchers=watchers,
        cpu=used / took,
        frame_s=used / frames,
        rate_hz=frames / took,
        uneven_s=quantile([abs(gap - middle) for gap in gaps], 0.99),
        longest_s=max(gaps),
        missing=missing,
    )


def show_of(universes: int, fixtures: int) -> dict[str, Any]:
    """Lamps dealt out to universes one after the other; all fade from black to their own white."""
    rig = [
        {
            "id": f"lamp{index}",
            "profile": KIND,
            "mode": MODE,
            "universe": 1 + index % universes,
            "address": 1 + WIDTH * (index // universes),
            "role": "fill",
        }
        for index in range(fixtures)
    ]
    look = {lamp["id"]: {"level": 1.0, "white": {"cct_k": 2700.0 + 7 * i}} for i, lamp in enumerate(rig)}
    output = {"sacn": {"universes": {str(number + 1): {"to": ["WHERE"]} for number in range(universes)}}}
    return {**SHOW, "rig": {"fixtures": rig}, "output": output, "cues": [{"number": "1", "look": look}]}
