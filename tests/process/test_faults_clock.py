"""The system's clock is set by hours while the light fades: nothing that reaches a lamp reads it.

The engine under test is given a wall clock that the test can set (``tests/process/injected``); setting the
machine's own would reach every other program on it.
"""

from __future__ import annotations

import ast
import time
from itertools import pairwise
from pathlib import Path

import pytest

import onecrew.engine
from tests.process.sandbox import Sandbox
from tests.process.test_crashes import level
from tests.process.test_faults_disk import INJECTED

PACKAGE = Path(onecrew.engine.__path__[0]).parent
WALL = {"time.time", "time.time_ns", "datetime.now", "datetime.utcnow", "datetime.today", "date.today"}
WALL |= {"time.localtime", "time.gmtime", "time.ctime", "time.strftime", "datetime.datetime.now"}


def test_the_clock_is_set_forward_and_back_in_a_fade_and_the_light_does_not_notice(sandbox: Sandbox) -> None:
    faults = sandbox.folder / "faults"
    faults.mkdir()
    sandbox.env |= {"PYTHONPATH": str(INJECTED), "ONECREW_TEST_FAULTS": str(faults)}
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    sandbox.tell(kind="take-start")
    begun = sandbox.wait_status()["take"]["since"]
    assert begun == pytest.approx(time.time(), abs=20)
    sandbox.tell(kind="recall", cue="2", fade_s=2.0)
    for hours, reached in ((5.0, 0.65), (-30.0, 0.85)):
        sandbox.receiver.wait(lambda packet, reached=reached: level(packet) > reached * 65535)  # type: ignore[misc]
        staged = faults / "staged"
        staged.write_text(str(3600.0 * hours))
        staged.replace(faults / "wall-clock")
        # The engine has seen it: what it says of times on the wall follows.
        since = sandbox.wait_status()["take"]["since"]
        assert since - begun == pytest.approx(3600.0 * hours, abs=20)
    sandbox.receiver.wait(lambda packet: level(packet) == 65535)
    sandbox.tell(kind="countdown", seconds=0.3, command={"kind": "recall", "cue": "3", "fade_s": 0.2})
    sandbox.wait_status(lambda status: status["cue"] == "3" and status["fade"] is None)
    packets = sandbox.receiver.since(0)
    numbers = [packet.sequence for packet in packets]
    assert numbers == [(numbers[0] + step) % 256 for step in range(len(numbers))]
    levels = [level(packet) for packet in packets]
    rise = levels[levels.index(32768) : levels.index(65535) + 1]
    assert rise == sorted(rise)
    assert max(b - a for a, b in pairwise(rise)) < 0.2 * 65535  # no jump
    assert levels[-1] == 0


@pytest.mark.parametrize("part", ["colour", "commands", "fixtures", "network", "playback", "show"])
def test_nothing_between_a_command_and_a_packet_can_read_the_wall_clock(part: str) -> None:
    """Where there is no call, no clock can be set. The engine reads it for the log and for a take's start."""
    found, files = [], sorted((PACKAGE / part).rglob("*.py"))
    assert files
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and ast.unparse(node) in WALL:
                found.append(f"{file.name}:{node.lineno} {ast.unparse(node)}")
            if isinstance(node, ast.ImportFrom) and node.module == "time":
                found.append(f"{file.name}:{node.lineno} names from time")
    assert found == []
