"""RealTime: asked for, given up in a flood, asked for again; and nothing where the system refuses."""

from __future__ import annotations

import ast
import asyncio
import os
import platform
import subprocess
import sys
from dataclasses import dataclass, field

import pytest

from onecrew.engine import realtime
from onecrew.engine.realtime import LOOK_S, SCHED_SETATTR, SLICE_NS, RealTime
from tests.process.sandbox import ORDINARY


@dataclass
class System:
    """A scheduler that grants or refuses, and clocks that a test sets."""

    grants: bool = True
    policy: int = 0
    nice: int = 0
    now: float = 100.0
    used: float = 5.0
    slices: list[int] = field(default_factory=list)
    """The policy at each wish for short slices."""

    def sched_setscheduler(self, pid: int, policy: int, param: object) -> None:
        assert pid == 0  # this thread, no other
        if not self.grants:
            raise PermissionError
        self.policy = policy

    def renice(self, by: int) -> int:
        if not self.grants:
            raise PermissionError
        self.nice += by
        return self.nice

    def pass_time(self, share: float, of: RealTime) -> None:
        self.now += LOOK_S
        self.used += share * LOOK_S
        of._look()


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> System:
    system = System()
    for name, value in (
        ("SCHED_RR", 2),
        ("SCHED_OTHER", 0),
        ("SCHED_RESET_ON_FORK", 0x40000000),
        ("sched_param", lambda priority: priority),
        ("sched_setscheduler", system.sched_setscheduler),
        ("nice", system.renice),
    ):
        monkeypatch.setattr(os, name, value, raising=False)
    monkeypatch.setattr("onecrew.engine.realtime.time.monotonic", lambda: system.now)
    monkeypatch.setattr("onecrew.engine.realtime.time.thread_time", lambda: system.used)
    monkeypatch.setattr(RealTime, "_plan", lambda self: None)
    monkeypatch.setattr(realtime, "ask_for_short_slices", lambda: system.slices.append(system.policy))
    return system


def test_real_time_is_asked_for_and_not_handed_on(system: System) -> None:
    RealTime().ask()
    assert system.policy == 2 | 0x40000000
    assert system.nice == 0 and system.slices == []


def test_a_thread_that_fills_its_time_steps_back_and_comes_forward_when_it_is_calm(system: System) -> None:
    """sched(7): a real-time thread that fills a second is stopped for a twentieth of it."""
    standing = RealTime()
    standing.ask()
    system.pass_time(0.1, standing)
    assert system.policy == 2 | 0x40000000
    system.pass_time(0.9, standing)
    assert system.policy == 0x40000000 and system.slices == [0x40000000]
    system.pass_time(0.5, standing)  # neither busy nor calm: it stays as it is
    assert system.policy == 0x40000000
    system.pass_time(0.1, standing)
    assert system.policy == 2 | 0x40000000


def test_where_the_system_refuses_everything_stays_as_it_is(system: System) -> None:
    system.grants = False
    standing = RealTime()
    standing.ask()
    assert (system.policy, system.nice, standing.real_time) == (0, 0, False)
    assert system.slices == [0]


def test_without_real_time_niceness_is_asked_for(system: System, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "SCHED_RESET_ON_FORK")
    RealTime().ask()
    assert system.nice == -10


@pytest.mark.skipif(not hasattr(os, "sched_getscheduler"), reason="this system has no such call")
def test_on_this_system_it_does_no_harm() -> None:
    async def work() -> None:
        standing = RealTime()
        standing.ask()
        await asyncio.sleep(0)
        standing._step_back()
        standing.close()

    asyncio.run(work())
    assert os.sched_getscheduler(0) & 0xFF == os.SCHED_OTHER


SLICES = """
import ctypes, os, platform
from onecrew.engine.realtime import SCHED_ATTR, SCHED_SETATTR, ask_for_short_slices

def told():
    attr = ctypes.create_string_buffer(SCHED_ATTR.size)
    call = ctypes.c_long(SCHED_SETATTR[platform.machine()] + 1)
    assert ctypes.CDLL(None).syscall(call, 0, attr, SCHED_ATTR.size, 0) == 0
    return SCHED_ATTR.unpack(attr)

os.nice(3)
ask_for_short_slices()
print(told())
if not os.fork():
    print(told(), flush=True)
    os._exit(0)
os.wait()
"""


def release() -> tuple[int, ...]:
    return tuple(int(part) for part in platform.release().split("-")[0].split(".")[:2] if part.isdecimal())


@pytest.mark.skipif(sys.platform != "linux" or release() < (6, 12), reason="no slices to ask for")
@pytest.mark.skipif(platform.machine() not in SCHED_SETATTR, reason="the call's number is not known here")
def test_short_slices_are_granted_to_anybody_and_not_handed_on() -> None:
    """sched_setattr(2): size, policy, flags, nice, priority, runtime, the slice from Linux 6.12 on."""
    done = subprocess.run(
        [*ORDINARY, sys.executable, "-c", SLICES], capture_output=True, text=True, check=True
    )
    own, child = (ast.literal_eval(line) for line in done.stdout.splitlines())
    assert own[1:6] == (os.SCHED_OTHER, 1, 3, 0, SLICE_NS)
    assert child[1:5] == (os.SCHED_OTHER, 0, 3, 0) and child[5] > SLICE_NS
