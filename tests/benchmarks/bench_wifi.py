"""Light over a lossy network: what a receiver shows, against the ideal fade, by how packets are repeated.

In simulated time: the engine's own streams, a network that loses 5 % of packets, all of them in bursts, and
delays the rest by 0 to 30 ms so that they overtake one another, and a receiver that keeps to the sequence
rule (E1.31-2018 §6.7.2). The same losses befall every way of sending. The control sends every frame, bare.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from onecrew.engine.frame_clock import FRAME_S
from onecrew.network.arbiter import out_of_order
from onecrew.network.pacing import NEVER_S, PLAIN, STEADY, WIFI, Repeat
from onecrew.network.sacn_stream import SacnStream
from tests.benchmarks.bench_engine import quantile
from tests.benchmarks.report import Row

LOSS, JITTER_S = 0.05, 0.030
BURST_EVERY_S, BURST_S = 4.0, (0.05, 0.25)
FADE_S, REST_S, FADES = 2.0, 3.0, 100
STEP_S = 0.001
END_S = 0.150
"""By when the receiver shows the end of a fade."""

Packet = tuple[float, int, float]
"""When it leaves, its sequence number, the level (0–1) that it carries."""


def ideal(now: float) -> float:
    """Up and down in turn, with a rest after each."""
    fade, into = divmod(now, FADE_S + REST_S)
    share = min(into / FADE_S, 1.0)
    return share if int(fade) % 2 == 0 else 1.0 - share


def by_streams(repeat: Repeat) -> Iterator[Packet]:
    """As the engine sends: frames on the grid while the light moves, then what the stream repeats."""
    stream = SacnStream(1, uuid.UUID(int=1), "wifi", repeat=repeat)
    now = frame = 0.0
    while now < FADES * (FADE_S + REST_S):
        slots = None
        if now >= frame:
            level = round(ideal(frame) * 65535)
            slots = level.to_bytes(2, "big") + bytes(510)
            frame += FRAME_S
            moving = ideal(frame) != ideal(frame - FRAME_S)
            stream.expect(frame + FRAME_S if moving else -NEVER_S)
        for packet in stream.due(now, slots):
            yield now, packet[stream.SEQUENCE_AT], ideal(frame - FRAME_S)
        now = min(frame, max(stream.next_due(now), now + 1e-4))


def bare() -> Iterator[Packet]:
    """Every frame, whatever it holds."""
    for number in range(int(FADES * (FADE_S + REST_S) / FRAME_S)):
        yield number * FRAME_S, number % 256, ideal(number * FRAME_S)


@dataclass(frozen=True)
class Seen:
    """What the receiver made of it."""

    worst: float
    """Farthest from the ideal, 0–1."""
    far: float
    """99th percentile of the same."""
    ended_s: float
    """The longest from the end of a fade to a light that shows it."""
    back: int
    """Steps back within a fade."""
    rest_hz: float
    """Packets a second while nothing changes."""


def seen(packets: Iterable[Packet]) -> Seen:
    chance = random.Random(7)
    bursts = bursts_of(chance)
    arrivals, resting = [], 0
    for at, number, level in packets:
        into = at % (FADE_S + REST_S)
        resting += into > FADE_S + 1.0
        chance.seed(f"{round(at / FRAME_S)}")  # the same fate for whoever sends in this frame
        lost = chance.random() < LOSS or any(begin <= at < end for begin, end in bursts)
        delay = chance.random() * JITTER_S
        if not lost:
            arrivals.append((at + delay, number, level))
    arrivals.sort()
    off, ended, back = [], [], 0
    light, last, waiting = 0.0, -1, 0
    fade, over = 0, True
    for step in range(int(FADES * (FADE_S + REST_S) / STEP_S)):
        now = step * STEP_S
        while waiting < len(arrivals) and arrivals[waiting][0] <= now:
            _, number, level = arrivals[waiting]
            waiting += 1
            if last < 0 or not out_of_order(last, number):
                rising = int(now // (FADE_S + REST_S)) % 2 == 0
                into = now % (FADE_S + REST_S)
                back += into > JITTER_S + FRAME_S and (level < light if rising else level > light)
                light, last = level, number
        off.append(abs(light - ideal(now)))
        if int(now // (FADE_S + REST_S)) != fade or step == 0:
            fade, over = int(now // (FADE_S + REST_S)), False
        into = now % (FADE_S + REST_S)
        if not over and into >= FADE_S and light == ideal(now):
            ended.append(into - FADE_S)
            over = True
    missed = FADES - len(ended)
    late = max(ended) if not missed else REST_S
    return Seen(max(off), quantile(off, 0.99), late, back, resting / (FADES * (REST_S - 1.0)))


def bursts_of(chance: random.Random) -> list[tuple[float, float]]:
    """Times in which nothing arrives."""
    bursts, now = [], 0.0
    while now < FADES * (FADE_S + REST_S):
        now += chance.expovariate(1.0 / BURST_EVERY_S)
        bursts.append((now, now + chance.uniform(*BURST_S)))
    return bursts


WAYS: dict[str, Callable[[], Iterator[Packet]]] = {
    "control: every frame, bare": bare,
    "without a setting: three repeats": lambda: by_streams(PLAIN),
    "wifi=on": lambda: by_streams(WIFI),
    "steady=on": lambda: by_streams(STEADY),
}


def rows() -> Iterable[Row]:
    control = seen(bare())
    for name, way in WAYS.items():
        one = seen(way())
        good = one.worst <= 1.5 * control.worst and one.back == 0
        yield Row(
            name,
            f"worst {100 * one.worst:.1f} %, p99 {100 * one.far:.2f} % of full, the end of a fade "
            f"at most {1e3 * one.ended_s:.0f} ms late, {one.back} steps back, {one.rest_hz:.1f} packets "
            "a second at rest",
            f"{one.worst / control.worst:.2f} × control's worst",
            "≤ 1.5 ×, no step back",
            good,
        )
