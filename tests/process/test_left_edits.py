"""A command that edits a show whose engine died: the state that it left is newer than the file and counts."""

from __future__ import annotations

import signal

from tests.process.sandbox import WAIT_S, Sandbox, kill

EDIT = ("breakdown", "show.json", "--cue", "1")


def test_while_an_engine_is_on_its_way_back_nothing_is_written_behind_it(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.successor()
    status = sandbox.wait_status()
    kill(status["supervisor_pid"], signal.SIGSTOP)
    try:
        kill(status["engine_pid"])
        before = sandbox.show.read_bytes()
        refused = sandbox.run(*EDIT)
        assert (refused.returncode, refused.stdout) == (1, "")
        assert sandbox.show.read_bytes() == before
    finally:
        kill(status["supervisor_pid"], signal.SIGCONT)
    sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
    assert "in the running engine" in sandbox.run(*EDIT).stdout


def test_edits_that_were_not_saved_yet_are_there_when_everything_was_killed(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    successor = sandbox.successor()
    status = sandbox.wait_status()
    sandbox.tell(kind="rename", name="Acknowledged")
    for pid in (status["supervisor_pid"], status["engine_pid"], successor):
        kill(pid)
    engine.wait(WAIT_S)
    done = sandbox.run(*EDIT)
    assert "in the running engine" in done.stdout and "started again" in done.stderr
    assert sandbox.wait_status()["show"] == "Acknowledged"
    assert sandbox.run("stop", "--fade", "0s").returncode == 0
