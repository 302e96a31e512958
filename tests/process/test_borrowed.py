"""An engine that a run started for itself: it ends with the run, whatever that dies of."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from typing import Any

import psutil
import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.single_lamp import dark
from tests.wire.e131_layout import Packet

RUNS = {
    "calibrate": ("window",),
    "stills": ("--lamps", "window"),
    "who": (),
    "probe": ("1.101", "--slots", "3"),
}
GONE = "the run that this engine was started for is gone, so it ends"


def lit(packet: Packet) -> bool:
    """Whether the level of a lamp is up, or a slot of the unknown one at address 101."""
    return not dark(packet) or any(packet.slots[100:103])


def run(sandbox: Sandbox, name: str) -> tuple[subprocess.Popen[str], dict[str, Any]]:
    """Starts a run where no engine is, and waits until a lamp is lit by it."""
    process = sandbox.start(name, str(sandbox.show), *RUNS[name], typed=True)
    if name == "stills":
        assert process.stdin is not None
        process.stdin.write("\n")  # the first still is of the dark
        process.stdin.flush()
    sandbox.receiver.wait(lit)
    return process, sandbox.wait_status()


def killed(process: subprocess.Popen[str], sign: signal.Signals = signal.SIGKILL) -> None:
    os.kill(process.pid, sign)
    process.wait(WAIT_S)


def wait_gone(sandbox: Sandbox, status: dict[str, Any]) -> None:
    deadline = time.monotonic() + WAIT_S
    for pid in (status["engine_pid"], status["supervisor_pid"]):
        while psutil.pid_exists(pid) and psutil.Process(pid).status() != psutil.STATUS_ZOMBIE:
            assert time.monotonic() < deadline, f"{pid} still runs"
            time.sleep(0.05)
    assert sandbox.endpoint() is None
    sandbox.receiver.catch_up()
    assert not lit(sandbox.receiver.packets[-1][1])


def logged(sandbox: Sandbox) -> str:
    return "".join(path.read_text() for path in sandbox.folder.rglob("*.log"))


@pytest.mark.parametrize("name", RUNS)
def test_killed_a_run_leaves_no_engine_and_no_light(sandbox: Sandbox, name: str) -> None:
    process, status = run(sandbox, name)
    killed(process)
    wait_gone(sandbox, status)
    assert logged(sandbox).count(GONE) == 1


def test_ended_in_good_order_it_takes_its_engine_along(sandbox: Sandbox) -> None:
    process, status = run(sandbox, "who")
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert process.returncode == 1 and "Traceback" not in wrong
    wait_gone(sandbox, status)
    assert GONE not in logged(sandbox)


def test_ended_in_good_order_while_the_desk_is_locked_it_leaves_the_engine_and_says_so(
    sandbox: Sandbox,
) -> None:
    process, status = run(sandbox, "who")
    sandbox.send("lock", "on")
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert process.returncode == 1 and "the desk is locked" in wrong
    sandbox.send("note", "still there")
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]
    assert GONE not in logged(sandbox)


def test_an_engine_that_died_meanwhile_ends_with_the_run_as_well(sandbox: Sandbox) -> None:
    process, before = run(sandbox, "calibrate")
    os.kill(before["engine_pid"], signal.SIGKILL)
    status = sandbox.wait_status(lambda now: now["engine_pid"] != before["engine_pid"])
    assert status["supervisor_pid"] == before["supervisor_pid"]
    killed(process)
    wait_gone(sandbox, status)


def test_one_that_the_run_started_again_ends_with_it_as_well(sandbox: Sandbox) -> None:
    process, before = run(sandbox, "calibrate")
    os.kill(before["supervisor_pid"], signal.SIGKILL)
    os.kill(before["engine_pid"], signal.SIGKILL)
    status = sandbox.wait_status(lambda now: now["engine_pid"] != before["engine_pid"])
    killed(process)
    wait_gone(sandbox, status)


def test_a_run_that_is_stopped_for_a_while_keeps_its_engine(sandbox: Sandbox) -> None:
    process, status = run(sandbox, "who")
    os.kill(process.pid, signal.SIGSTOP)
    sandbox.wait_status(lambda now: not now["identify"])  # nobody asks for the pulse meanwhile
    os.kill(process.pid, signal.SIGCONT)
    assert sandbox.wait_status(lambda now: bool(now["identify"]))["engine_pid"] == status["engine_pid"]
    killed(process)
    wait_gone(sandbox, status)


def test_an_engine_whose_desk_is_locked_stays(sandbox: Sandbox) -> None:
    process, status = run(sandbox, "who")
    sandbox.send("lock", "on")
    killed(process)
    deadline = time.monotonic() + WAIT_S
    while GONE not in logged(sandbox):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    said = sandbox.wait_status(lambda now: "locked" in now["message"])
    assert said["engine_pid"] == status["engine_pid"]


def test_an_engine_that_ran_before_stays(sandbox: Sandbox) -> None:
    sandbox.engine()
    process, status = run(sandbox, "who")
    killed(process)
    sandbox.wait_status(lambda now: not now["identify"])
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]
    assert GONE not in logged(sandbox)


@pytest.mark.parametrize("supervised", [True, False], ids=["started again", "abandoned"])
def test_an_engine_that_is_dead_in_the_moment_in_which_a_run_begins_is_no_engine_of_the_run(
    sandbox: Sandbox, supervised: bool
) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda now: now["cue"] == "1")
    kill(status["supervisor_pid"], signal.SIGSTOP if supervised else signal.SIGKILL)
    kill(status["engine_pid"])
    process = sandbox.start("who", str(sandbox.show), typed=True)
    if supervised:
        time.sleep(1.0)  # the run has looked for an engine by then
        kill(status["supervisor_pid"], signal.SIGCONT)
    after = sandbox.wait_status(lambda now: bool(now["identify"]))
    assert after["engine_pid"] != status["engine_pid"]
    process.communicate("stop\n", WAIT_S)
    assert sandbox.wait_status(lambda now: not now["identify"])["engine_pid"] == after["engine_pid"]
    assert sandbox.wait_status()["cue"] == "1" and lit(sandbox.receiver.packets[-1][1])
