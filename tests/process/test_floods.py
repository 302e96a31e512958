"""Clients by the hundred, clients that never read, commands by the thousand: frames stay on time.

Nothing is timed. What the wire allows is counted by the kernel's own times of arrival; what is missing is
read from the sequence numbers.
"""

from __future__ import annotations

import contextlib
import json
import socket
import struct
import time
from itertools import pairwise

import psutil

from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.test_crashes import level

CLIENTS = 200
COMMANDS = 4000
RATE_HZ = 44  # E1.31-2018 §6.6.1 with E1.11: a full packet takes 22.7 ms
GROWTH_BYTES = 64 << 20
ABORT = struct.pack("ii", 1, 0)
"""SO_LINGER: close by a reset, as a client that vanishes does."""


def attached(sandbox: Sandbox, watch_hz: float | None = 15.0) -> socket.socket:
    endpoint = sandbox.endpoint()
    assert endpoint is not None
    client = socket.create_connection(("127.0.0.1", endpoint["port"]), timeout=WAIT_S)
    lines = [{"hello": {"token": endpoint["token"]}}]
    if watch_hz is not None:
        lines.append({"watch": {"rate_hz": watch_hz}})
    client.sendall("".join(json.dumps(line) + "\n" for line in lines).encode())
    return client


def in_order(sandbox: Sandbox) -> None:
    numbers = [packet.sequence for packet in sandbox.receiver.since(0)]
    assert all((b - a) % 256 == 1 for a, b in pairwise(numbers))


def within_the_limit(sandbox: Sandbox) -> None:
    """No second holds more packets than 44 Hz allows; one more for the second's two ends, one for delays."""
    moments = [moment for moment, _ in sandbox.receiver.packets]
    first = 0
    for last, moment in enumerate(moments):
        while moment - moments[first] > 1.0:
            first += 1
        assert last - first + 1 <= RATE_HZ + 2


def test_two_hundred_clients_attach_and_vanish_in_the_middle_of_a_fade(sandbox: Sandbox) -> None:
    sandbox.engine()
    pid = sandbox.wait_status()["engine_pid"]
    sandbox.tell(kind="recall", cue="2", fade_s=3.0)
    for _ in range(2):  # twice: those that went must have made room for those that come
        clients = [attached(sandbox) for _ in range(CLIENTS)]
        for client in clients:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, ABORT)
            client.close()
    sandbox.receiver.wait(lambda packet: level(packet) == 65535)
    status = sandbox.wait_status(lambda status: status["cue"] == "2" and status["fade"] is None)
    assert status["engine_pid"] == pid
    in_order(sandbox)
    within_the_limit(sandbox)


def test_a_client_that_never_reads_costs_neither_light_nor_memory(sandbox: Sandbox) -> None:
    sandbox.engine()
    engine = psutil.Process(sandbox.wait_status()["engine_pid"])
    before = engine.memory_info().rss
    with attached(sandbox, 30.0) as deaf:
        sandbox.tell(kind="recall", cue="2", fade_s=2.0)
        question = json.dumps({"id": 1, "ask": "show"}).encode() + b"\n"
        deadline = time.monotonic() + WAIT_S
        with contextlib.suppress(ConnectionError):  # answers pile up until the engine lets go
            while time.monotonic() < deadline:
                deaf.sendall(question * 100)
        assert time.monotonic() < deadline, "the engine kept answering somebody who never read"
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
        assert engine.memory_info().rss - before < GROWTH_BYTES
    assert sandbox.wait_status()["engine_pid"] == engine.pid
    in_order(sandbox)
    within_the_limit(sandbox)


def test_of_a_flood_of_commands_the_newest_wins_at_44_hz(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.tell(kind="set", fixtures=["window"], level=0.5)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    with attached(sandbox, None) as flood, flood.makefile("rb") as heard:
        flood.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        assert b"welcome" in heard.readline()
        for block in range(0, COMMANDS, 50):
            lines = b""
            for number in range(block, block + 50):
                command = {"kind": "set", "fixtures": ["window"], "level": number / COMMANDS}
                lines += json.dumps({"id": number + 1, "command": command}).encode() + b"\n"
            flood.sendall(lines)
            time.sleep(0.02)
        replies = [json.loads(heard.readline()) for _ in range(COMMANDS)]
    assert [reply["id"] for reply in replies] == list(range(1, COMMANDS + 1))  # every one was carried out
    assert all(reply["changed"] for reply in replies)
    newest = round((COMMANDS - 1) / COMMANDS * 65535)
    sandbox.receiver.wait(lambda packet: level(packet) == newest)
    sandbox.wait_status()
    packets = sandbox.receiver.since(0)
    levels = [level(packet) for packet in packets]
    rise = levels[levels.index(32768) + 1 :]
    while rise and rise[0] == 32768:
        rise.pop(0)
    assert rise == sorted(rise)  # never an older one after a newer
    assert rise[-1] == newest
    assert 10 < len(set(rise)) < COMMANDS / 4  # what was superseded was not sent
    in_order(sandbox)
    within_the_limit(sandbox)


def test_a_flood_from_many_clients_at_once_leaves_the_last_word_to_the_last(sandbox: Sandbox) -> None:
    sandbox.engine()
    clients = [attached(sandbox, None) for _ in range(40)]
    try:
        for step in range(25):
            for number, client in enumerate(clients):
                command = {"kind": "set", "fixtures": ["window"], "level": (step * 40 + number) / 1000}
                client.sendall(json.dumps({"id": 1, "command": command}).encode() + b"\n")
        for client in clients:
            with client.makefile("rb") as heard:
                assert sum(b"changed" in heard.readline() for _ in range(26)) == 25  # after the welcome
        sandbox.tell(kind="set", fixtures=["window"], level=1.0)
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
    finally:
        for client in clients:
            client.close()
    in_order(sandbox)
    within_the_limit(sandbox)


def test_a_heap_of_questions_waits_its_turn_behind_frames_and_commands(sandbox: Sandbox) -> None:
    """Seconds of work for one client, handed over at once: another's command is carried out long before."""
    sandbox.engine()
    with attached(sandbox, None) as curious, curious.makefile("rb") as heard:
        question = b'{"id": 1, "ask": "gamut", "with": {"fixture": "window"}}\n'
        curious.sendall(question * 4000)
        assert b"welcome" in heard.readline()
        sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        sandbox.receiver.wait(lambda packet: level(packet) == 32768)
        curious.setblocking(False)
        answered = 0
        with contextlib.suppress(BlockingIOError):
            while data := curious.recv(1 << 20):
                answered += data.count(b"\n")
        assert answered < 3900, "the heap was worked off first"
    in_order(sandbox)
