"""A take run again is the same take, packet for packet: fades, delays, auto-follows and effects.

Frames leave when they leave; what a frame shows is its place in the take. So two runs are compared as they
went out on the wire: in simulated time, where the machine is late in two different ways, every packet of
the one is that of the other; and as a process in real time, every packet is one of that very series, in its
order.
"""

from __future__ import annotations

import asyncio
import json
import random
from collections.abc import Callable, Iterable
from functools import partial
from itertools import dropwhile, groupby
from pathlib import Path
from typing import Any

import pytest

from onecrew.commands.command import Command
from onecrew.commands.countdown import Countdown
from onecrew.commands.light import SetLight
from onecrew.commands.running import Recall
from onecrew.commands.session import Stop
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.engine import process
from onecrew.engine.endpoint import files_of
from onecrew.engine.process import Engine
from onecrew.network.delivery import Address
from onecrew.network.outputs import Outputs
from tests.fakes.documents import document
from tests.fakes.simulated import SimulatedLoop
from tests.process.sandbox import Sandbox
from tests.wire.e131_layout import parse

Frames = dict[int, list[bytes]]
"""By universe: the slots of every packet, in the order in which they left."""

TAKE_S = 7.0
FLAME = {"kind": "flame", "seed": 7}
ROAD = {"kind": "headlights", "rate": 3, "seed": 5}
SET = {"kind": "television", "seed": 3}
STORM = {"kind": "lightning", "rate": 3, "seed": 11}
TUBE = {"kind": "failing-tube", "rate": 2, "seed": 1}
PATCH = {
    "window": {"profile": "panel-cct-tint", "mode": "16-bit", "universe": 1, "address": 1, "role": "key"},
    "oven": {"profile": "bulb-rgbww", "mode": "8-bit", "universe": 1, "address": 21, "role": "practical"},
    "van": {"profile": "spot-six", "mode": "16-bit", "universe": 2, "address": 1, "role": "effect"},
}
SHOW: dict[str, Any] = {
    "name": "Same again",
    "rig": {"fixtures": [{"id": lamp, **fields} for lamp, fields in PATCH.items()]},
    "cues": [
        {"number": "1", "name": "Dark", "fade": {"in_s": 0.0, "out_s": 0.0}},
        {
            "number": "2",
            "name": "Fire and road",
            "fade": {"in_s": 1.3, "out_s": 0.9},
            "auto_follow_s": 1.7,
            "look": {
                "window": {"level": 0.4, "white": {"cct_k": 5600}},
                "oven": {"level": 0.6, "white": {"cct_k": 2200}, "effect": FLAME},
                "van": {"level": 0.8, "white": {"cct_k": 4000}, "effect": ROAD},
            },
        },
        {
            "number": "3",
            "name": "The set is on",
            "fade": {"in_s": 1.1, "out_s": 0.7, "curve": "stops"},
            "delay_s": 0.4,
            "auto_follow_s": 2.9,
            "look": {
                "window": {"level": 0.3, "white": {"cct_k": 6500}, "effect": SET},
                "oven": {"level": 0.2, "white": {"cct_k": 2000}, "effect": FLAME},
            },
        },
        {
            "number": "4",
            "name": "Storm",
            "fade": {"in_s": 0.6, "out_s": 0.6, "curve": "ease"},
            "look": {"van": {"level": 1.0, "xy": [0.3, 0.31], "effect": STORM}},
        },
        {"number": "9", "name": "Something else", "look": {"oven": {"level": 1.0, "effect": TUBE}}},
    ],
}
NOWHERE = {"1": {"to": ["192.0.2.1"]}, "2": {"to": ["192.0.2.2"]}}  # RFC 5737
FROM_CUE_2 = TakeStart(chain_from="2", from_black=True)
Script = list[tuple[float, Command]]
"""Commands and when they come, seconds from the start."""


class Tape:
    """A network that keeps what left with the time it left."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self.packets: list[tuple[float, bytes]] = []
        self._clock = clock

    def __call__(self, address: Address) -> Tape:
        return self

    def send(self, data: bytearray | bytes, /) -> int:
        self.packets.append((self._clock(), bytes(data)))
        return len(data)

    def close(self) -> None: ...


def lateness(seed: int) -> Callable[[], float]:
    """Timers of a machine that others use too: late by parts of a millisecond, now and then by several."""
    draw = random.Random(seed)
    return lambda: draw.uniform(0.0, 0.0004) + (draw.random() < 0.03) * draw.uniform(0.0, 0.006)


def performed(
    script: Script, folder: Path, patch: pytest.MonkeyPatch, *, now: float, late: int | None, show: str = ""
) -> Frames:
    """Runs an engine in simulated time from ``now``; returns the packets from the start of its take on.

    ``show`` is a document of its own, or the one of this module.
    """
    loop = SimulatedLoop(now, lateness(late) if late is not None else lambda: 0.0)
    tape = Tape(loop.time)
    folder.mkdir()
    for kind in ("RUNTIME_DIR", "STATE_HOME", "CONFIG_HOME"):
        patch.setenv(f"XDG_{kind}", str(folder / kind.lower()))
    patch.setattr(process, "_sleep_until", lambda moment: moment)
    patch.setattr(process, "Outputs", partial(Outputs, open_socket=tape))
    house_show = folder / "show.json"
    house_show.write_text(show or show_file(NOWHERE))
    engine = Engine(files_of(house_show), lambda: None, clock=loop.time)
    begun: list[float] = []

    async def work() -> None:
        running = asyncio.create_task(engine.run())
        for at, command in script:
            await asyncio.sleep(now + at - loop.time())
            engine.control.carry_out(command)
        while (take := engine.desk.playback.take) is None:
            await asyncio.sleep(0.1)
        begun.append(take.since)
        await asyncio.sleep(begun[0] + TAKE_S - loop.time())
        engine.control.carry_out(Stop(fade_s=0.0, confirmed=True))
        await running

    with asyncio.Runner(loop_factory=lambda: loop) as runner:
        runner.run(work())
    taken = (parse(data) for at, data in tape.packets if begun[0] <= at < begun[0] + TAKE_S - 0.1)
    return by_universe((packet.universe, packet.slots) for packet in taken if packet.kind == "data")


def opened(frames: list[bytes]) -> list[bytes]:
    """The packets from the first light on: where it was dark before, the dark look that a take opens with is
    no change and needs no packet."""
    return list(dropwhile(lambda slots: slots == bytes(512), frames))


def by_universe(packets: Iterable[tuple[int, bytes]]) -> Frames:
    frames: Frames = {}
    for universe, slots in packets:
        frames.setdefault(universe, []).append(slots)
    return frames


def show_file(universes: dict[str, Any]) -> str:
    return json.dumps(document({**SHOW, "output": {"sacn": {"universes": universes}}}))


ELSEWHERE: Script = [
    (0.3, Recall(cue="9", fade_s=0.5)),
    (1.1, SetLight(fixtures=("window",), level=0.7, cct_k=3000, fade_s=0.8)),
]
"""A history that leaves an effect running, lamps edited and a beat of its own."""


@pytest.fixture
def reference(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Frames:
    """The take on a machine that is never late."""
    frames = performed([(1.0, FROM_CUE_2)], tmp_path / "reference", monkeypatch, now=1000.0, late=None)
    assert set(frames) == {1, 2}
    assert all(len(set(frames[universe])) > 80 for universe in (1, 2))  # light that moves
    return frames


@pytest.mark.parametrize(
    ("script", "now"),
    [
        ([(1.0, FROM_CUE_2)], 1000.0),
        ([(1.0, FROM_CUE_2)], 7_654_321.0987),
        ([*ELSEWHERE, (4.0123, FROM_CUE_2)], 31_536.71),
        ([*ELSEWHERE, (2.3, Countdown(seconds=1.717, command=FROM_CUE_2))], 86_400.5),
        ([(0.5, FROM_CUE_2), (3.7, TakeEnd(good=False)), (9.2, FROM_CUE_2)], 123.456),
    ],
    ids=["again", "at another hour", "after something else", "by a countdown", "as a second take"],
)
def test_every_packet_of_a_take_is_the_same_in_every_run(
    script: Script, now: float, reference: Frames, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    again = performed(script, tmp_path / "again", monkeypatch, now=now, late=4711)
    for universe, frames in reference.items():
        heard = opened(again[universe])
        expected = opened(frames)
        assert abs(len(heard) - len(expected)) < 3  # the second take is cut where its seconds are over
        count = min(len(heard), len(expected))
        assert heard[:count] == expected[:count]


def test_another_seed_is_another_take(
    reference: Frames, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The comparison above can fail: with one digit of one effect changed it does."""
    monkeypatch.setitem(SET, "seed", 4)
    other = performed([(1.0, FROM_CUE_2)], tmp_path / "other", monkeypatch, now=1000.0, late=None)
    assert other[1] != reference[1]
    assert other[2] == reference[2]  # what it does not touch is as it was


def test_a_take_of_a_running_engine_is_that_same_series_of_frames(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from_cue_3: Script = [(1.0, TakeStart(chain_from="3", from_black=True))]
    with monkeypatch.context() as patch:
        reference = performed(from_cue_3, tmp_path / "reference", patch, now=1000.0, late=None)
    home = tmp_path / "sandbox"
    home.mkdir()
    sandbox = Sandbox(home)
    try:
        to = [f"127.0.0.1:{sandbox.receiver.port}"]
        sandbox.show.write_text(show_file({"1": {"to": to}, "2": {"to": to}}))
        sandbox.engine()
        for _ in range(2):
            mark = len(sandbox.receiver.packets)
            sandbox.tell(kind="take-start", chain_from="3", from_black=True)
            sandbox.wait_status(lambda status: status["cue"] == "4" and status["fade"] is None)
            sandbox.tell(kind="take-end", good=True)
            heard = by_universe((p.universe, p.slots) for p in sandbox.receiver.since(mark))
            for universe, frames in reference.items():
                series = [slots for slots, _ in groupby(frames)]
                found = [slots for slots, _ in groupby(heard[universe])]
                assert in_this_order(found[1:], series)  # the first may still be what was before
                # A machine that is late leaves frames out; it sends none that is not of the take.
                assert len(found) > 0.4 * len(series)
            sandbox.tell(kind="recall", cue="1", fade_s=0.0)
            sandbox.wait_status(lambda status: status["lights"]["van"]["level"] == 0)
    finally:
        sandbox.close()


def in_this_order(found: list[bytes], series: list[bytes]) -> bool:
    """Whether every frame found is one of the series, in its order."""
    rest = iter(series)
    return all(any(slots == frame for frame in rest) for slots in found)
