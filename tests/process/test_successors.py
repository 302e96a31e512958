"""Where the next engine comes from: a process that has loaded everything forks it, or becomes it itself."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from onecrew.engine.successors import Orphan
from tests.process.sandbox import WAIT_S, Sandbox, kill

WITHOUT_FORKS = """
import sys
from onecrew.engine import successors
from onecrew.engine.supervisor import supervise
successors.adopts_orphans = lambda: False
sys.exit(supervise(sys.argv[1]))
"""
AN_ORPHAN_ENDS = """
import contextlib, os, time, psutil
from onecrew.engine import successors
def no_room(*_words, **_options): raise OSError
successors.started = no_room
assert successors.adopts_orphans()
between = os.fork()
if not between:
    os.fork()
    os._exit(0)
os.waitpid(between, 0)
[orphan] = psutil.Process().children()
for _ in range(2000):
    if orphan.status() == psutil.STATUS_ZOMBIE:
        break
    time.sleep(0.01)
with contextlib.suppress(OSError):
    successors.Forked([], 1).start([])
assert not psutil.Process().children()
"""

A_FORK_FAILS = """
import os
fork, calls = os.fork, []
def scarce():
    calls.append(1)
    if len(calls) == {number}:
        raise BlockingIOError(11, "no process left")
    return fork()
os.fork = scarce
"""

forks = pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets a process adopt orphans")


def opened(pid: int, *numbers: str) -> set[str]:
    """The pipes and files that a process has open, all or by their descriptors; not the empty one."""
    folder = Path(f"/proc/{pid}/fd")
    links = {str(one.readlink()) for one in folder.iterdir() if not numbers or one.name in numbers}
    return {link for link in links if link != os.devnull and not link.startswith("anon_inode")}


def killed(sandbox: Sandbox, cue: str) -> int:
    """Kills the engine once it plays the cue; the process id of the one that plays it then."""
    sandbox.send("recall", cue, "in", "0s")
    before = sandbox.wait_status(lambda status: status["cue"] == cue)["engine_pid"]
    kill(before)
    status = sandbox.wait_status(lambda status: status["engine_pid"] != before)
    assert status["cue"] == cue
    return int(status["engine_pid"])


@forks
def test_every_engine_comes_from_one_process_and_is_the_supervisors(sandbox: Sandbox) -> None:
    supervisor = sandbox.engine()
    successor = sandbox.successor()
    engines = {sandbox.wait_status()["engine_pid"], killed(sandbox, "1"), killed(sandbox, "2")}
    assert len(engines) == 3 and sandbox.successor() == successor not in engines
    status = sandbox.wait_status()
    assert status["supervisor_pid"] == supervisor.pid
    engine, one_that_forks = psutil.Process(status["engine_pid"]), psutil.Process(successor)
    assert engine.ppid() == one_that_forks.ppid() == supervisor.pid
    # Each is the only one of its session: no signal to a group reaches both.
    assert len(set(map(os.getsid, (engine.pid, successor, supervisor.pid)))) == 3
    # It reads nothing, and holds nothing of what the other is told by.
    assert opened(engine.pid, "0") == set()
    assert opened(engine.pid) & opened(successor) == opened(engine.pid, "1", "2")


@forks
def test_an_engine_outlives_what_forked_it_and_its_successor_comes_from_another(sandbox: Sandbox) -> None:
    sandbox.engine()
    first = sandbox.successor()
    engine = sandbox.wait_status()["engine_pid"]
    kill(first)
    assert sandbox.wait_status()["engine_pid"] == engine
    assert killed(sandbox, "1") != engine
    assert sandbox.successor() != first


@forks
def test_an_engine_comes_back_where_what_forks_it_is_stopped(sandbox: Sandbox) -> None:
    sandbox.engine()
    stopped = sandbox.successor()
    kill(stopped, signal.SIGSTOP)
    killed(sandbox, "1")
    assert sandbox.successor() != stopped and not psutil.pid_exists(stopped)


@forks
def test_what_forks_engines_ends_with_the_supervisor_and_the_engine_stays(sandbox: Sandbox) -> None:
    sandbox.engine()
    successor = psutil.Process(sandbox.successor())
    status = sandbox.wait_status()
    kill(status["supervisor_pid"])
    successor.wait(WAIT_S)
    assert (
        sandbox.wait_status(lambda now: now["supervisor_pid"] is None)["engine_pid"] == status["engine_pid"]
    )


@forks
def test_an_end_is_heard_while_the_engine_is_still_being_loaded(sandbox: Sandbox) -> None:
    (sandbox.folder / "sacn.py").write_text("import time\ntime.sleep(60)\n")
    sandbox.env["PYTHONPATH"] = str(sandbox.folder)
    supervisor = sandbox.start("engine", str(sandbox.show))
    begun = time.monotonic()
    while not (loading := psutil.Process(supervisor.pid).children()):
        assert time.monotonic() < begun + WAIT_S
        time.sleep(0.01)
    supervisor.terminate()
    supervisor.wait(WAIT_S)
    assert not loading[0].is_running()


def test_an_interrupt_ends_an_engine_that_is_being_loaded_without_a_word(sandbox: Sandbox) -> None:
    (sandbox.folder / "sacn.py").write_text("import time\nprint('loading', flush=True)\ntime.sleep(60)\n")
    sandbox.env["PYTHONPATH"] = str(sandbox.folder)
    engine = sandbox.popen([sys.executable, "-P", "-m", "onecrew.engine", str(sandbox.show)])
    assert engine.stdout is not None and engine.stdout.readline() == "loading\n"
    engine.send_signal(signal.SIGINT)
    assert engine.communicate(timeout=WAIT_S) == ("", "") and engine.returncode == -signal.SIGINT


@forks
def test_nothing_of_it_stays_when_the_engine_is_stopped(sandbox: Sandbox) -> None:
    supervisor = sandbox.engine()
    successor = psutil.Process(sandbox.successor())
    assert sandbox.run("stop", "--fade", "0s", "--show", str(sandbox.show)).returncode == 0
    assert supervisor.wait(WAIT_S) == 0
    assert not successor.is_running()


@forks
@pytest.mark.parametrize("number", [1, 2])
def test_where_no_engine_can_be_forked_that_is_said_and_tried_again(sandbox: Sandbox, number: int) -> None:
    (sandbox.folder / "sitecustomize.py").write_text(A_FORK_FAILS.format(number=number))
    sandbox.env["PYTHONPATH"] = str(sandbox.folder)
    supervisor = sandbox.start("engine", str(sandbox.show))
    assert supervisor.stderr is not None
    assert select.select([supervisor.stderr], [], [], WAIT_S)[0]
    assert supervisor.stderr.readline().startswith("onecrew: the engine could not be started (")
    assert supervisor.stderr.readline() == "onecrew: the engine died (status 1) and is started again\n"


@forks
@pytest.mark.parametrize(("act", "status"), [("kill -2 $$", -2), ("exit 2", 2)])
def test_what_an_engine_ended_with_is_known_and_its_number_is_let_go(act: str, status: int) -> None:
    process = subprocess.Popen(["sh", "-c", act])
    engine = Orphan(process.pid)
    assert engine.poll() is None
    assert engine.wait() == engine.wait() == engine.poll() == status
    engine.send_signal(signal.SIGTERM)  # to nobody
    process.returncode = status  # as that is looked after already
    assert not psutil.pid_exists(process.pid)


@forks
def test_an_end_that_was_adopted_is_taken_note_of() -> None:
    subprocess.run([sys.executable, "-c", AN_ORPHAN_ENDS], check=True, timeout=WAIT_S)


def test_where_nothing_is_forked_the_one_that_waits_takes_the_place(sandbox: Sandbox) -> None:
    process = sandbox.popen([sys.executable, "-P", "-c", WITHOUT_FORKS, str(sandbox.show)])
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    spare = sandbox.successor()
    assert killed(sandbox, "1") == spare  # it may still be at its imports: the line waits for it
    spare = sandbox.successor()
    assert sandbox.run("stop", "--fade", "0s", "--show", str(sandbox.show)).returncode == 0
    assert process.wait(WAIT_S) == 0
    assert not psutil.pid_exists(spare)
