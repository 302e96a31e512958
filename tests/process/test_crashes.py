"""Whatever dies, the light stays: engine, supervisor, clients, killed one by one or all at once."""

from __future__ import annotations

import itertools
import os
import shutil
import signal
import sys
import time

import psutil
import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.wire.e131_layout import Packet

WITHOUT_ENDS = """
import os, signal, sys
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
os.execv(sys.argv[1], sys.argv[1:])
"""


def level(packet: Packet) -> int:
    return packet.slots[0] * 256 + packet.slots[1]


def accepted(packets: list[Packet]) -> list[Packet]:
    """What a receiver takes by the sequence rule of E1.31-2018 §6.7.2."""
    taken: list[Packet] = []
    for packet in packets:
        step = (packet.sequence - taken[-1].sequence + 128) % 256 - 128 if taken else 1
        if not -20 < step <= 0:
            taken.append(packet)
    return taken


def test_a_killed_engine_comes_back_with_the_look_that_was_showing(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1")
    before = sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    mark = len(sandbox.receiver.packets)
    kill(before["engine_pid"])
    sandbox.receiver.wait(lambda packet: True, mark)
    after = sandbox.wait_status(lambda status: status["engine_pid"] != before["engine_pid"])
    assert after["cue"] == "1"
    assert after["lights"]["window"]["slots"] == before["lights"]["window"]["slots"]
    # No dark frame, nor any other: every packet since then carries the look.
    since = sandbox.receiver.since(mark)
    assert level(since[0]) == 32768
    assert {packet.slots for packet in since} == {since[0].slots}


def test_a_killed_engine_comes_back_where_the_ends_of_children_were_ignored(sandbox: Sandbox) -> None:
    sandbox.popen([sys.executable, "-c", WITHOUT_ENDS, *sandbox.command("engine", str(sandbox.show))])
    before = sandbox.wait_status()
    kill(before["engine_pid"])
    sandbox.wait_status(lambda status: status["engine_pid"] != before["engine_pid"])


def test_a_fade_goes_on_through_the_death_of_the_engine(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    sandbox.send("recall", "2")
    status = sandbox.wait_status(lambda status: status["lights"]["window"]["level"] > 0.6)
    kill(status["engine_pid"])
    sandbox.wait_status(lambda now: now["fade"] is None and now["engine_pid"] != status["engine_pid"])
    levels = [level(packet) for packet in accepted(sandbox.receiver.since(0))]
    rise = levels[levels.index(32768) :]
    assert rise == sorted(rise)
    assert rise[-1] == 65535


def test_killed_again_and_again_the_first_packet_is_always_one_that_receivers_take(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    for _ in range(4):
        mark = len(sandbox.receiver.packets)
        last = sandbox.receiver.packets[-1][1]
        kill(status["engine_pid"])
        pid = status["engine_pid"]
        first = sandbox.receiver.wait(lambda packet: True, mark)
        assert accepted([last, first]) == [last, first]
        status = sandbox.wait_status(lambda now, pid=pid: now["engine_pid"] != pid)  # type: ignore[misc]


def test_the_light_stays_when_the_supervisor_is_killed(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    kill(engine.pid)
    mark = len(sandbox.receiver.packets)
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768  # its keep-alive
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]
    assert sandbox.run("stop", "--show", str(sandbox.show)).returncode == 0
    deadline = time.monotonic() + WAIT_S
    while psutil.pid_exists(status["engine_pid"]):
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_a_closed_window_does_not_reach_the_engine(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    engine.send_signal(signal.SIGHUP)
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    os.kill(status["engine_pid"], signal.SIGHUP)
    mark = len(sandbox.receiver.packets)
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768
    assert engine.poll() is None


def test_interrupt_is_an_orderly_end(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    engine.send_signal(signal.SIGINT)
    assert engine.wait(WAIT_S) == 0
    assert [packet.terminated for packet in sandbox.receiver.since(-3)] == [True, True, True]


def test_a_stopped_process_neither_bursts_nor_goes_dark_when_it_goes_on(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    sandbox.send("recall", "2")
    sandbox.receiver.wait(lambda packet: level(packet) > 34000)
    os.kill(status["engine_pid"], signal.SIGSTOP)
    time.sleep(1.0)
    mark = len(sandbox.receiver.packets)
    os.kill(status["engine_pid"], signal.SIGCONT)
    sandbox.receiver.wait(lambda packet: level(packet) == 65535, mark)
    since = sandbox.receiver.since(mark)
    levels = [level(packet) for packet in since]
    assert levels[0] > 34000
    assert levels == sorted(levels)
    # The lost second is not made up for: the numbers go on one by one, and no frame of it is sent late. How
    # far apart packets are is proven where the clock is the test's own (tests/wire/test_stream_pacing.py).
    steps = [(after.sequence - before.sequence) % 256 for before, after in itertools.pairwise(since)]
    assert set(steps) == {1}


def test_the_engine_takes_up_its_look_after_everything_was_killed(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    kill(engine.pid)
    kill(status["engine_pid"])
    engine.wait(WAIT_S)
    mark = len(sandbox.receiver.packets)
    sandbox.engine()
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768
    assert sandbox.wait_status()["cue"] == "1"


def test_the_look_outlives_an_engine_whose_state_folder_was_cleared(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    shutil.rmtree(sandbox.folder / "state_home")
    deadline = time.monotonic() + WAIT_S
    while not list((sandbox.folder / "state_home").rglob("*.live")):
        assert time.monotonic() < deadline
        time.sleep(0.02)
    sandbox.send("set", "window", "level=40%")
    os.kill(status["engine_pid"], signal.SIGKILL)
    after = sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
    assert after["cue"] == "1" and after["lights"]["window"]["level"] == pytest.approx(0.4)


def test_an_unsaved_change_survives_the_death_of_the_engine(sandbox: Sandbox) -> None:
    sandbox.engine()
    aside = sandbox.show.with_name("aside.json")
    sandbox.show.rename(aside)
    sandbox.show.mkdir()  # nothing can be saved there
    sandbox.send("set", "window", "level=15%")
    sandbox.send("store", "7", "Ember")
    status = sandbox.wait_status(lambda status: not status["saved"]["ok"])
    assert "not saved" in status["saved"]["error"]
    kill(status["engine_pid"])
    sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"] and now["cue"] == "7")
    sandbox.show.rmdir()
    sandbox.wait_status(lambda now: now["saved"]["ok"])
    deadline = time.monotonic() + WAIT_S
    while not (sandbox.show.is_file() and "Ember" in sandbox.show.read_text()):
        assert time.monotonic() < deadline
        time.sleep(0.05)
