"""An engine that a run started for itself: it ends with the run, whatever that dies of."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from typing import Any

import psutil
import pytest

from tests.process.alone import dark
from tests.process.house import WAIT_S, House
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


def run(house: House, name: str) -> tuple[subprocess.Popen[str], dict[str, Any]]:
    """Starts a run where no engine is, and waits until a lamp is lit by it."""
    process = house.start(name, str(house.show), *RUNS[name], typed=True)
    if name == "stills":
        assert process.stdin is not None
        process.stdin.write("\n")  # the first still is of the dark
        process.stdin.flush()
    house.ear.wait(lit)
    return process, house.wait_status()


def killed(process: subprocess.Popen[str], sign: signal.Signals = signal.SIGKILL) -> None:
    os.kill(process.pid, sign)
    process.wait(WAIT_S)


def wait_gone(house: House, status: dict[str, Any]) -> None:
    deadline = time.monotonic() + WAIT_S
    for pid in (status["engine_pid"], status["supervisor_pid"]):
        while psutil.pid_exists(pid) and psutil.Process(pid).status() != psutil.STATUS_ZOMBIE:
            assert time.monotonic() < deadline, f"{pid} still runs"
            time.sleep(0.05)
    assert house.endpoint() is None
    house.ear.catch_up()
    assert not lit(house.ear.packets[-1][1])


def logged(house: House) -> str:
    return "".join(path.read_text() for path in house.folder.rglob("*.log"))


@pytest.mark.parametrize("name", RUNS)
def test_killed_a_run_leaves_no_engine_and_no_light(house: House, name: str) -> None:
    process, status = run(house, name)
    killed(process)
    wait_gone(house, status)
    assert logged(house).count(GONE) == 1


def test_ended_in_good_order_it_takes_its_engine_along(house: House) -> None:
    process, status = run(house, "who")
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert process.returncode == 1 and "Traceback" not in wrong
    wait_gone(house, status)
    assert GONE not in logged(house)


def test_ended_in_good_order_while_the_desk_is_locked_it_leaves_the_engine_and_says_so(house: House) -> None:
    process, status = run(house, "who")
    house.send("lock", "on")
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert process.returncode == 1 and "the desk is locked" in wrong
    house.send("note", "still there")
    assert house.wait_status()["engine_pid"] == status["engine_pid"]
    assert GONE not in logged(house)


def test_an_engine_that_died_meanwhile_ends_with_the_run_as_well(house: House) -> None:
    process, before = run(house, "calibrate")
    os.kill(before["engine_pid"], signal.SIGKILL)
    status = house.wait_status(lambda now: now["engine_pid"] != before["engine_pid"])
    assert status["supervisor_pid"] == before["supervisor_pid"]
    killed(process)
    wait_gone(house, status)


def test_one_that_the_run_started_again_ends_with_it_as_well(house: House) -> None:
    process, before = run(house, "calibrate")
    os.kill(before["supervisor_pid"], signal.SIGKILL)
    os.kill(before["engine_pid"], signal.SIGKILL)
    status = house.wait_status(lambda now: now["engine_pid"] != before["engine_pid"])
    killed(process)
    wait_gone(house, status)


def test_a_run_that_is_stopped_for_a_while_keeps_its_engine(house: House) -> None:
    process, status = run(house, "who")
    os.kill(process.pid, signal.SIGSTOP)
    house.wait_status(lambda now: not now["identify"])  # nobody asks for the pulse meanwhile
    os.kill(process.pid, signal.SIGCONT)
    assert house.wait_status(lambda now: bool(now["identify"]))["engine_pid"] == status["engine_pid"]
    killed(process)
    wait_gone(house, status)


def test_an_engine_whose_desk_is_locked_stays(house: House) -> None:
    process, status = run(house, "who")
    house.send("lock", "on")
    killed(process)
    deadline = time.monotonic() + WAIT_S
    while GONE not in logged(house):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    said = house.wait_status(lambda now: "locked" in now["message"])
    assert said["engine_pid"] == status["engine_pid"]


def test_an_engine_that_ran_before_stays(house: House) -> None:
    house.engine()
    process, status = run(house, "who")
    killed(process)
    house.wait_status(lambda now: not now["identify"])
    assert house.wait_status()["engine_pid"] == status["engine_pid"]
    assert GONE not in logged(house)
