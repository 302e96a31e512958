"""What the engine and its supervisor say goes into pipes that nobody reads: the light takes no notice."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from onecrew.engine.supervisor import EXIT_DIED
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_crashes import level
from tests.process.test_ready import said

REMARK = "n" * 480
PIPE_BYTES = 1 << 16
"""What a pipe holds on Linux, pipe(7); no other system gives one more."""
REMARKS = 2 * PIPE_BYTES // len(REMARK)
BUG = """
import sys
from onecrew.engine import main
main.files_of = None
sys.exit(main.main(["show.json"]))
"""

FAULT = "raise ImportError('this\\x1b[31m library is damaged')"


@contextmanager
def full_pipe() -> Iterator[int]:
    """The end to write to of a pipe that has no room left and is never read."""
    unread, full = os.pipe()
    os.set_blocking(full, False)
    try:
        while True:
            os.write(full, b"x" * 512)
    except BlockingIOError:
        os.set_blocking(full, True)
    yield full
    os.close(unread)
    os.close(full)


def into(full: int, sandbox: Sandbox, *command: str) -> subprocess.Popen[bytes]:
    """A process that can say nothing."""
    return subprocess.Popen(
        command,
        env=sandbox.env,
        cwd=sandbox.folder,
        stdin=subprocess.DEVNULL,
        stdout=full,
        stderr=full,
    )


def goes_on(sandbox: Sandbox) -> None:
    """The engine carries out commands, and they reach the lamp."""
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)


def test_frames_go_on_when_the_log_has_filled_a_pipe(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    for number in range(REMARKS):
        sandbox.tell(kind="note", text=f"{number} {REMARK}")
    goes_on(sandbox)
    sandbox.tell(kind="stop", fade_s=0.0, confirmed=True)
    assert engine.wait(WAIT_S) == 0  # nor does it wait at its end for a reader that never comes


def test_what_is_read_late_is_whole_and_in_order(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    for number in range(REMARKS):
        sandbox.tell(kind="note", text=f"{number} {REMARK}")
    goes_on(sandbox)
    for number, line in enumerate(said(engine, REMARK, REMARKS)):
        assert line.endswith(f"INFO {number} {REMARK}\n")


@pytest.mark.skipif(os.name != "posix", reason="a pipe that is full by then")
def test_an_engine_that_can_say_nothing_lights_up_and_is_started_again(sandbox: Sandbox) -> None:
    with full_pipe() as full:
        process = into(full, sandbox, *sandbox.command("engine", str(sandbox.show)))
        try:
            before = sandbox.wait_status()
            goes_on(sandbox)
            kill(before["engine_pid"])
            after = sandbox.wait_status(lambda status: status["engine_pid"] != before["engine_pid"])
            assert after["cue"] == "1"
            sandbox.tell(kind="stop", fade_s=0.0, confirmed=True)
            assert process.wait(WAIT_S) == 0
        finally:
            kill(process.pid)
            process.wait(WAIT_S)


@pytest.mark.skipif(os.name != "posix", reason="a pipe that is full by then")
def test_an_engine_that_cannot_say_of_which_bug_it_dies_does_die(sandbox: Sandbox) -> None:
    """Else nobody would start another one in its place."""
    with full_pipe() as full:
        process = into(full, sandbox, sys.executable, "-c", BUG)
        try:
            assert process.wait(WAIT_S) == 1
        finally:
            kill(process.pid)
            process.wait(WAIT_S)


@pytest.fixture
def damaged(sandbox: Sandbox) -> Sandbox:
    """One whose engines find a library that cannot be imported."""
    (sandbox.folder / "sacn.py").write_text(FAULT)
    sandbox.env["PYTHONPATH"] = os.pathsep.join((str(sandbox.folder), sandbox.env.get("PYTHONPATH", "")))
    return sandbox


CANNOT_LOAD = (
    "onecrew: the engine could not be loaded (ImportError: this\\u001b[31m library is damaged): "
    "install onecrew again\n"
)


def test_an_engine_that_cannot_be_loaded_is_a_sentence(damaged: Sandbox) -> None:
    done = damaged.run("engine", str(damaged.show))
    assert (done.returncode, done.stdout, done.stderr) == (1, "", CANNOT_LOAD)


@pytest.mark.parametrize("first, last", [((), ("--resumed",)), (("--spare",), ())])
def test_one_that_a_light_waits_for_is_tried_again(
    damaged: Sandbox, first: tuple[str, ...], last: tuple[str, ...]
) -> None:
    command = [sys.executable, "-P", "-m", "onecrew.engine", *first, str(damaged.show), *last]
    done = subprocess.run(command, env=damaged.env, capture_output=True, text=True, timeout=WAIT_S)
    assert (done.returncode, done.stdout, done.stderr) == (EXIT_DIED, "", CANNOT_LOAD)


@pytest.mark.skipif(os.name != "posix", reason="a pipe that is full by then")
def test_nor_does_it_wait_until_somebody_reads_it(damaged: Sandbox) -> None:
    with full_pipe() as full:
        process = into(full, damaged, *damaged.command("engine", str(damaged.show)))
        try:
            assert process.wait(WAIT_S) == 1
        finally:
            kill(process.pid)
            process.wait(WAIT_S)
