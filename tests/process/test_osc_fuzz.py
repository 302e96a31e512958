"""Twenty thousand hostile OSC packets sent to a running engine: its light, its memory and its life stay."""

from __future__ import annotations

import time

import psutil

from tests.osc.osc_fuzz import could_be_a_command, packets
from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.test_osc import Controller, free_port, level, with_osc

COUNT = 20_000
BATCH = 40
"""Packets sent before the engine is asked how many it heard: a socket's buffer drops what is too much."""


def test_no_packet_that_is_no_command_changes_anything(sandbox: Sandbox) -> None:
    controller = Controller(free_port())
    with_osc(sandbox, controller.port)
    sandbox.engine()
    sandbox.wait_status(lambda status: status["remote"]["osc"]["state"] == "listening")
    controller.send("/onecrew/light/window/level", 0.25)
    sandbox.receiver.wait(level(0.25))
    controller.send("/onecrew/nonsense")
    controller.wait("/onecrew/refused")
    before = sandbox.wait_status()
    engine = psutil.Process(before["engine_pid"])
    memory = engine.memory_info().rss
    mark = len(sandbox.receiver.packets)

    sent = 0
    batch = 0
    for packet in packets(seed=7, count=COUNT):
        if could_be_a_command(packet):
            continue
        controller.raw(packet)
        sent += 1
        batch += 1
        if batch == BATCH:
            # The sender's own question comes after all of the batch: when it is answered, they were heard.
            controller.heard.clear()
            controller.send("/onecrew/report", None, 30.0, 60)
            controller.wait("/onecrew/state/show")
            batch = 0
    controller.send("/onecrew/report-end")

    after = sandbox.wait_status(lambda status: status["remote"]["osc"]["receivers"] == 0)
    osc = after["remote"]["osc"]
    assert sent > 0.8 * COUNT
    assert osc["heard"] > 0.99 * sent  # they came, nearly all of them
    assert osc["bad"] > 0.5 * sent
    assert after["engine_pid"] == before["engine_pid"]
    for unchanged in ("cue", "locked", "held", "blackout", "master", "revision", "solo", "without", "take"):
        assert after[unchanged] == before[unchanged]
    assert after["lights"] == before["lights"]
    deadline = time.monotonic() + WAIT_S
    while len(sandbox.receiver.packets) == mark and time.monotonic() < deadline:
        time.sleep(0.05)  # the stream is kept alive once a second
    heard = sandbox.receiver.since(mark)
    assert heard
    assert {packet.slots for packet in heard} == {sandbox.receiver.packets[mark - 1][1].slots}
    assert engine.memory_info().rss - memory < 8 << 20

    controller.send("/onecrew/light/window/level", 0.5)
    sandbox.receiver.wait(level(0.5))
    controller.socket.close()
