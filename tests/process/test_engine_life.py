"""An engine as a process: ready, commands, a look on the wire, a second one, an orderly end."""

from __future__ import annotations

import json
import socket
import time

import psutil
import pytest

from onecrew.commands.command import EngineCommand
from onecrew.commands.session import Stop
from onecrew.commands.table import write_words
from tests.commands.test_table import EXAMPLES
from tests.process.sandbox import WAIT_S, Sandbox
from tests.wire.e131_layout import Packet


def window(packet: Packet) -> tuple[int, int]:
    """The panel's dimmer and CCT values, 16 bit."""
    slots = packet.slots
    return slots[0] * 256 + slots[1], slots[2] * 256 + slots[3]


def test_every_command_for_the_engine_is_carried_out_or_refused_for_a_reason(sandbox: Sandbox) -> None:
    sandbox.engine()
    for command in EXAMPLES:
        if isinstance(command, EngineCommand) and not isinstance(command, Stop):
            done = sandbox.run("send", *write_words(command).split())
            assert done.returncode == 0 or "not something the desk does" not in done.stderr, done.stderr


def test_ready_means_the_first_packet_has_left(sandbox: Sandbox) -> None:
    sandbox.engine()
    first = sandbox.receiver.wait(lambda packet: True)
    assert first.universe == 1
    assert window(first)[0] == 0


def test_a_look_recalled_with_one_command_arrives_exactly(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    last = sandbox.receiver.since(-1)[0]
    dimmer, cct = window(last)
    # Level 0.5 of 16 bits, half up (own convention): 32768. The panel spans its kelvins linearly.
    assert dimmer == 32768
    status = sandbox.wait_status()
    assert status["lights"]["window"]["level"] == 0.5
    assert tuple(status["lights"]["window"]["slots"]) == tuple(last.slots[:6])
    assert status["lights"]["window"]["white"]["cct_k"] == pytest.approx(4300, abs=0.5)
    assert cct > 0
    assert status["outputs"][0]["state"] == "ok"


def test_stop_fades_to_black_terminates_the_stream_and_leaves_nothing_running(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["fade"] is None)
    pid = sandbox.wait_status()["engine_pid"]
    done = sandbox.run("stop", "--show", str(sandbox.show))
    assert done.returncode == 0, done.stderr
    assert engine.wait(WAIT_S) == 0
    assert not psutil.pid_exists(pid)
    packets = sandbox.receiver.since(0)
    assert [packet.terminated for packet in packets[-4:]] == [False, True, True, True]  # E1.31 §6.2.6
    assert (window(packets[-1])[0], packets[-1].slots[20]) == (0, 0)
    levels = [window(packet)[0] for packet in packets]
    fall = levels[levels.index(32768) :]
    assert fall == sorted(fall, reverse=True)
    assert len(set(fall)) > 10  # a fade, not a cut
    assert sandbox.endpoint() is None
    assert sandbox.run("status", "--show", str(sandbox.show)).returncode == 1


def test_a_second_engine_for_the_same_show_is_refused_with_a_sentence(sandbox: Sandbox) -> None:
    sandbox.engine()
    second = sandbox.run("engine", str(sandbox.show))
    assert second.returncode != 0
    assert "already runs" in second.stderr
    assert "Traceback" not in second.stderr
    assert second.stdout == ""
    assert sandbox.wait_status()["cue"] is None


@pytest.mark.parametrize("spoil", ["truncated", "unknown profile"])
def test_a_faulty_show_is_refused_before_any_light(sandbox: Sandbox, spoil: str) -> None:
    text = sandbox.show.read_text()
    spoiled = text[:-40] if spoil == "truncated" else text.replace("panel-cct-tint", "panel-of-dreams")
    sandbox.show.write_text(spoiled)
    done = sandbox.run("engine", str(sandbox.show))
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    assert str(sandbox.show) in done.stderr
    assert sandbox.receiver.since(0) == []
    assert sandbox.show.read_text() == spoiled


def test_garbage_sent_to_the_link_changes_nothing(sandbox: Sandbox) -> None:
    sandbox.engine()
    endpoint = sandbox.endpoint()
    assert endpoint is not None
    for garbage in (b"\xff\xfe\x00" * 1000 + b"\n", b'{"command": {"kind": "go"}}\n', b"\n" * 10):
        with socket.create_connection(("127.0.0.1", endpoint["port"]), timeout=WAIT_S) as stranger:
            stranger.sendall(garbage)
            assert b"goodbye" in stranger.recv(4096)
    status = sandbox.wait_status()
    assert status["cue"] is None
    assert all(light["level"] == 0 for light in status["lights"].values())


def test_the_endpoint_is_for_its_user_alone(sandbox: Sandbox) -> None:
    sandbox.engine()
    endpoint = next((sandbox.folder / "runtime_dir").rglob("*.json"))
    assert endpoint.stat().st_mode & 0o777 == 0o600


def test_a_change_of_the_show_is_saved_by_itself(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("set", "window", "level=22%", "cct=3400")
    sandbox.send("store", "7", "Ember")
    sandbox.wait_status(lambda status: status["saved"]["ok"] and status["cue"] == "7")
    deadline = time.monotonic() + WAIT_S
    while '"7"' not in sandbox.show.read_text():
        assert time.monotonic() < deadline
        time.sleep(0.02)
    stored = json.loads(sandbox.show.read_text())["scenes"][0]["cues"][-1]
    assert stored["number"] == "7"
    assert stored["look"]["window"]["level"] == 0.22
    assert stored["look"]["window"]["white"]["cct_k"] == 3400


def test_a_hard_link_to_a_show_starts_no_second_engine(sandbox: Sandbox) -> None:
    sandbox.engine()
    other = sandbox.folder / "other.json"
    other.hardlink_to(sandbox.show)
    refused = sandbox.run("engine", str(other))
    assert refused.returncode != 0
    assert "is the same file as" in refused.stderr and "whose engine already runs" in refused.stderr
