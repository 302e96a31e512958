"""The terminal program is killed, its window closed, the engine's own window closed: no packet is missing.

Whether a packet is missing is read from the sequence numbers (E1.31-2018 §6.7.2: one more with each packet).
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from itertools import pairwise

import pexpect
import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_crashes import accepted, level
from tests.wire.e131_layout import Packet


def window(sandbox: Sandbox, *words: str) -> pexpect.spawn:
    """``onecrew WORDS`` in a terminal of 80 × 24."""
    program, *arguments = sandbox.command(*words)
    return pexpect.spawn(
        program,
        arguments,
        env={**sandbox.env, "TERM": "xterm-256color"},
        cwd=str(sandbox.folder),
        dimensions=(24, 80),
        timeout=WAIT_S,
    )


def kill_it(screen: pexpect.spawn) -> None:
    kill(screen.pid)


def close_it(screen: pexpect.spawn) -> None:
    """As a closed window does: the terminal goes away, and what ran in it gets SIGHUP."""
    screen.ptyproc.fileobj.close()


def hang_up(screen: pexpect.spawn) -> None:
    kill(screen.pid, signal.SIGHUP)


def one_by_one(packets: list[Packet]) -> bool:
    return all((b.sequence - a.sequence) % 256 == 1 for a, b in pairwise(packets))


@pytest.mark.parametrize("end", [kill_it, close_it, hang_up])
def test_the_screens_go_in_the_middle_of_a_fade_and_no_packet_is_missing(
    sandbox: Sandbox, end: Callable[[pexpect.spawn], None]
) -> None:
    screen = window(sandbox, "open", str(sandbox.show))
    try:
        screen.expect("F1")
        sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        sandbox.receiver.wait(lambda packet: level(packet) == 32768)
        before = sandbox.wait_status()
        sandbox.tell(kind="recall", cue="2", fade_s=1.5)
        sandbox.receiver.wait(lambda packet: level(packet) > 40000)
        end(screen)
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
        after = sandbox.wait_status()
        for pid in ("engine_pid", "supervisor_pid"):
            assert after[pid] == before[pid]
        packets = sandbox.receiver.since(0)
        assert one_by_one(packets)
        levels = [level(packet) for packet in packets]
        rise = levels[levels.index(32768) : levels.index(65535)]
        assert rise == sorted(rise)
    finally:
        kill(screen.pid)
        screen.closed = True


def test_an_engine_whose_own_window_was_closed_is_still_started_again_when_it_dies(sandbox: Sandbox) -> None:
    screen = window(sandbox, "engine", str(sandbox.show))
    supervisor = screen.pid
    try:
        screen.expect("ready")
        sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        status = sandbox.wait_status(lambda status: status["cue"] == "1")
        assert status["supervisor_pid"] == supervisor
        screen.ptyproc.fileobj.close()  # nobody reads what it says any more, and writing fails
        sandbox.tell(kind="recall", cue="2", fade_s=0.5)
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
        assert one_by_one(sandbox.receiver.since(0))
        kill(status["engine_pid"])
        again = sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
        assert again["supervisor_pid"] == supervisor
        packets = sandbox.receiver.since(0)
        assert len(accepted(packets)) == len(packets)
        assert level(packets[-1]) == 65535
        assert 0 not in [level(packet) for packet in packets[-10:]]
    finally:
        kill(supervisor)
        screen.closed = True


@pytest.mark.parametrize("words", [("open", "SHOW"), ()], ids=["screens", "start screen"])
@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGHUP])
def test_screens_that_a_signal_ends_leave_the_terminal_as_it_was(
    sandbox: Sandbox, words: tuple[str, ...], sign: signal.Signals
) -> None:
    """Out of the alternate screen and without reports of the mouse (xterm's control sequences)."""
    screen = window(sandbox, *(str(sandbox.show) if word == "SHOW" else word for word in words))
    try:
        screen.expect_exact("\x1b[?1049h")
        screen.expect("F1" if words else "demo")
        kill(screen.pid, sign)
        screen.expect(pexpect.EOF)
        for end in (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?25h"):
            assert end in screen.before
        screen.wait()
        assert screen.exitstatus is not None, "it ended by itself"
    finally:
        kill(screen.pid)
        screen.closed = True


def test_screens_whose_window_is_closed_end(sandbox: Sandbox) -> None:
    screen = window(sandbox, "open", str(sandbox.show))
    try:
        screen.expect("F1")
        close_it(screen)
        deadline = time.monotonic() + WAIT_S
        while os.waitpid(screen.pid, os.WNOHANG) == (0, 0):
            assert time.monotonic() < deadline, "it goes on without a window"
            sandbox.receiver.pause(0.05)
    finally:
        screen.closed = True


def test_screens_that_were_halted_come_back_whole(sandbox: Sandbox) -> None:
    screen = window(sandbox, "open", str(sandbox.show))
    try:
        screen.expect("F1")
        screen.send("\x1b[12~")  # F2
        screen.expect("F1")
        os.kill(screen.pid, signal.SIGTSTP)
        screen.expect_exact("\x1b[?1049l")
        os.kill(screen.pid, signal.SIGCONT)
        screen.expect_exact("\x1b[?1049h")
        screen.expect("NOW")
    finally:
        screen.close(force=True)
