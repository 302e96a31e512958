"""SIGKILL at any moment of fades and of saves: the look goes on, the file is whole, nothing is lost.

The moments are drawn from a seed, so that a failure can be had again. How soon packets come back is measured
in ``tests/benchmarks/bench_recovery``; here everything is waited for.
"""

from __future__ import annotations

import contextlib
import json
import random
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from onecrew.show.scenes import Document
from tests.process.bursts import lost_edits
from tests.process.sandbox import SHOW, WAIT_S, Sandbox, kill
from tests.process.test_crashes import accepted, level

LONG: dict[str, Any] = {
    **SHOW,
    "cues": [
        SHOW["cues"][0],
        {
            "number": "2",
            "name": "Long",
            "fade": {"in_s": 6.0, "out_s": 6.0},
            "look": {"window": {"level": 1.0, "white": {"cct_k": 3200}}, "pendant": {"level": 0.8}},
        },
    ],
}
FADE_KILLS = 4
SAVE_KILLS = 8
WHEN_SAVED_S = 0.5
BURST_KILLS = 6
STEP_S = 0.004
"""The first kill comes within so long after the change, the second within as long after that, and so on."""


def test_killed_at_random_moments_of_a_fade_the_light_only_ever_rises(tmp_path: Path) -> None:
    draw = random.Random(1931)
    sandbox = Sandbox(tmp_path, LONG)
    try:
        sandbox.engine()
        sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        sandbox.receiver.wait(lambda packet: level(packet) == 32768)
        pid = sandbox.wait_status()["engine_pid"]
        sandbox.tell(kind="recall", cue="2")
        for _ in range(FADE_KILLS):
            time.sleep(draw.uniform(0.0, 0.9))
            kill(pid)
            pid = sandbox.wait_status(lambda now, pid=pid: now["engine_pid"] != pid)["engine_pid"]  # type: ignore[misc]
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
        sandbox.wait_status(lambda now: now["fade"] is None)
        heard = sandbox.receiver.since(0)
        taken = accepted(heard)
        levels = [level(packet) for packet in taken]
        rise = levels[levels.index(32768) :]
        assert rise == sorted(rise)  # no dark frame, none twice, none from before
        assert rise[-1] == 65535
        assert [packet for packet in heard if level(packet) == 0] == heard[: levels.index(32768)]
        assert len(taken) == len(heard)  # receivers took every packet, the first after each death too
        whites = [packet.slots[2:4] for packet in taken[levels.index(32768) :]]
        assert len(set(whites)) > 10  # the colour was fading as well
    finally:
        sandbox.close()


def test_killed_at_random_moments_of_saves_the_file_is_whole_and_nothing_is_lost(tmp_path: Path) -> None:
    """The engine runs without its supervisor here, so that the file can be looked at as the kill left it."""
    draw = random.Random(1964)
    sandbox = Sandbox(tmp_path)
    try:
        note = "".join(draw.choice("abcdefgh \n") for _ in range(1500))
        for piece in range(120):  # a document of some size, whose saving takes its time
            document = json.loads(sandbox.show.read_text())
            pieces = document["scenes"][0].setdefault("set_pieces", [])
            pieces.append({"id": f"piece-{piece}", "kind": "flag", "note": note})
            sandbox.show.write_text(json.dumps(document))
        engine = bare_engine(sandbox)
        before = Document.model_validate_json(sandbox.show.read_text())
        saved = []
        moments = [(step + draw.random()) * STEP_S for step in range(SAVE_KILLS - 1)] + [WHEN_SAVED_S]
        for round_, moment in enumerate(moments):
            after = before.model_copy(update={"name": f"Night {round_}"})
            promised = renamed_and_killed(sandbox, engine, after.name, moment)
            left = Document.model_validate_json(sandbox.show.read_text())  # whole
            assert left in (before, after)  # and one of the two
            saved.append(left == after)
            engine = bare_engine(sandbox)
            status = sandbox.wait_status(lambda now: now["saved"]["ok"])
            if promised:
                assert status["show"] == after.name  # what the engine said was done is done
            kept = after if status["show"] == after.name else before
            deadline = time.monotonic() + WAIT_S
            while Document.model_validate_json(sandbox.show.read_text()) != kept:
                assert time.monotonic() < deadline
                time.sleep(0.02)
            before = kept
        assert True in saved and False in saved, "no kill came in the middle of things: draw other moments"
        assert not list(sandbox.folder.glob(".show.json.saving"))
    finally:
        sandbox.close()


def renamed_and_killed(sandbox: Sandbox, engine: subprocess.Popen[str], name: str, after_s: float) -> bool:
    """Sends a change, kills the engine that long after it; true if it had said that the change is done."""
    endpoint = sandbox.endpoint()
    assert endpoint is not None
    said = [{"hello": {"token": endpoint["token"]}}, {"id": 1, "command": {"kind": "rename", "name": name}}]
    with socket.create_connection(("127.0.0.1", endpoint["port"]), timeout=WAIT_S) as link:
        link.sendall("".join(json.dumps(line) + "\n" for line in said).encode())
        time.sleep(after_s)
        engine.kill()
        engine.wait(WAIT_S)
        heard = b""
        with contextlib.suppress(ConnectionError):
            while data := link.recv(4096):
                heard += data
    return b"changed" in heard


def bare_engine(sandbox: Sandbox) -> subprocess.Popen[str]:
    """The engine alone; returns when it can be reached."""
    command = [sys.executable, "-P", "-m", "onecrew.engine", str(sandbox.show)]
    engine = sandbox.popen(command)
    sandbox.wait_status(lambda status: status["engine_pid"] == engine.pid)
    return engine


def test_no_edit_that_was_acknowledged_is_lost_when_everything_is_killed_in_a_burst(tmp_path: Path) -> None:
    """Hundreds of kills are ``python -m tests.benchmarks edits``."""
    assert list(lost_edits(tmp_path, BURST_KILLS, seed=1941)) == []


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT], ids=lambda sign: sign.name)
def test_whatever_the_engine_dies_of_it_is_started_again(sandbox: Sandbox, sign: signal.Signals) -> None:
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    mark = len(sandbox.receiver.packets)
    kill(status["engine_pid"], sign)
    sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"] and now["cue"] == "1")
    assert {level(packet) for packet in sandbox.receiver.since(mark)} == {32768}
