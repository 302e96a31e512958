"""A locked desk or a rolling take is not ended by accident, whoever asks; what must be sure asks twice."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Callable

import pytest

from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.test_crashes import level
from tests.process.test_osc import Controller, free_port, with_osc


def locked(sandbox: Sandbox) -> None:
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    sandbox.tell(kind="lock", on=True)
    sandbox.wait_status(lambda status: status["locked"])


def rolling(sandbox: Sandbox) -> None:
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    sandbox.tell(kind="take-start", setup="12A")
    sandbox.wait_status(lambda status: status["take"] is not None and status["take"]["running"])


MUST_BE_SURE = pytest.mark.parametrize(
    ("state", "why"), [(locked, "the desk is locked"), (rolling, "take 1 of setup 12A is rolling")]
)


@MUST_BE_SURE
def test_stop_without_a_terminal_says_how_to_confirm(
    sandbox: Sandbox, state: Callable[[Sandbox], None], why: str
) -> None:
    engine = sandbox.engine()
    state(sandbox)
    for words in (["stop", "--show", str(sandbox.show)], ["send", "stop"]):
        refused = sandbox.run(*words)
        assert refused.returncode == 1
        assert why in refused.stderr and "confirm the end" in refused.stderr
    mark = len(sandbox.receiver.packets)
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768
    assert engine.poll() is None
    assert sandbox.run("stop", "--yes", "--fade", "0s", "--show", str(sandbox.show)).returncode == 0
    assert engine.wait(WAIT_S) == 0


@MUST_BE_SURE
def test_ctrl_c_says_so_first_and_a_second_one_ends_it(
    sandbox: Sandbox, state: Callable[[Sandbox], None], why: str
) -> None:
    engine = sandbox.engine()
    state(sandbox)
    engine.send_signal(signal.SIGINT)
    status = sandbox.wait_status(lambda status: "Ctrl-C again" in status["message"])
    assert why in status["message"]
    assert status["lights"]["window"]["level"] == 0.5
    engine.send_signal(signal.SIGINT)
    assert engine.wait(WAIT_S) == 0
    assert [packet.terminated for packet in sandbox.receiver.since(-3)] == [True, True, True]


@MUST_BE_SURE
def test_an_osc_message_is_refused(sandbox: Sandbox, state: Callable[[Sandbox], None], why: str) -> None:
    osc = Controller(free_port())
    with contextlib.closing(osc.socket):
        with_osc(sandbox, osc.port)
        engine = sandbox.engine()
        state(sandbox)
        osc.send("/onecrew/stop", 0.0)
        osc.wait("/onecrew/refused", lambda values: values[0] == "/onecrew/stop" and why in values[1])
        assert sandbox.wait_status()["lights"]["window"]["level"] == 0.5 and engine.poll() is None


def test_a_take_that_has_ended_asks_for_nothing(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    rolling(sandbox)
    sandbox.tell(kind="take-end")
    sandbox.tell(kind="stop", fade_s=0.0)
    assert engine.wait(WAIT_S) == 0


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
