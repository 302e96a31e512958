"""A locked desk is not ended by accident, whoever asks; what must be sure asks twice."""

from __future__ import annotations

import signal

from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.test_crashes import level


def locked(sandbox: Sandbox) -> None:
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    sandbox.tell(kind="lock", on=True)
    sandbox.wait_status(lambda status: status["locked"])


def test_stop_without_a_terminal_says_how_to_confirm(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    locked(sandbox)
    for words in (["stop", "--show", str(sandbox.show)], ["send", "stop"]):
        refused = sandbox.run(*words)
        assert refused.returncode == 1
        assert "the desk is locked" in refused.stderr
    mark = len(sandbox.receiver.packets)
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768
    assert engine.poll() is None
    assert sandbox.run("stop", "--yes", "--fade", "0s", "--show", str(sandbox.show)).returncode == 0
    assert engine.wait(WAIT_S) == 0


def test_ctrl_c_says_so_first_and_a_second_one_ends_it(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    locked(sandbox)
    engine.send_signal(signal.SIGINT)
    status = sandbox.wait_status(lambda status: "Ctrl-C again" in status["message"])
    assert status["lights"]["window"]["level"] == 0.5
    engine.send_signal(signal.SIGINT)
    assert engine.wait(WAIT_S) == 0
    assert [packet.terminated for packet in sandbox.receiver.since(-3)] == [True, True, True]


def test_an_end_with_a_show_that_is_not_saved_is_confirmed_as_well(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.show.write_text("{ no show")
    sandbox.tell(kind="rename", name="Later")
    sandbox.wait_status(lambda status: not status["saved"]["ok"])
    refused = sandbox.run("stop", "--show", str(sandbox.show))
    assert refused.returncode == 1
    assert "not saved" in refused.stderr and "--yes" in refused.stderr
    assert sandbox.run("stop", "--yes", "--fade", "0s", "--show", str(sandbox.show)).returncode == 0
    assert engine.wait(WAIT_S) == 0


def test_a_signal_of_the_system_ends_it_all_the_same(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    locked(sandbox)
    engine.send_signal(signal.SIGTERM)
    assert engine.wait(WAIT_S) == 0
