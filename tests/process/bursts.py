"""Bursts of edits that a kill of everything cuts short, and what the next engine still knows of them.

An edit renames the show, the next one sets a lamp by hand, and so on in turn, each sent when the one before
was acknowledged: the one lives in the document, the other in what plays.
"""

from __future__ import annotations

import contextlib
import json
import random
import socket
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.process.sandbox import SHOW, WAIT_S, Sandbox, kill

BURST_S = 0.4
"""Within this time from its first edit a burst is cut short."""
START_S = 0.5
"""Within this time from its start an engine is killed where the kill comes while it starts."""
LEVELS = 997
"""Levels set by hand, one a pair of edits, until they begin anew."""


def large_show(seed: int) -> dict[str, Any]:
    """A show whose saving takes its time."""
    draw = random.Random(seed)
    note = "".join(draw.choice("abcdefgh \n") for _ in range(1500))
    pieces = [{"id": f"piece-{piece}", "kind": "flag", "note": note} for piece in range(40)]
    return {**SHOW, "rig": {**SHOW["rig"], "set_pieces": pieces}}


def lost_edits(folder: Path, kills: int, seed: int) -> Iterator[str]:
    """Kills supervisor and engine in ``kills`` bursts; yields a sentence for each edit that was lost.

    Every third time the next engine is killed as well, while it starts.
    """
    draw = random.Random(seed)
    sandbox = Sandbox(folder, large_show(seed))
    edit = 0
    try:
        for round_ in range(kills + 1):
            sandbox.engine()
            yield from lost_after(edit, sandbox.wait_status())
            if round_ == kills:
                return
            edit = burst(sandbox, edit, draw.uniform(0.0, BURST_S))
            sandbox.close_processes()
            if round_ % 3 == 2:
                starting = sandbox.start("engine", str(sandbox.show))
                with contextlib.suppress(subprocess.TimeoutExpired):
                    starting.wait(draw.uniform(0.0, START_S))
                sandbox.close_processes()
    finally:
        sandbox.close()


def lost_after(edit: int, status: dict[str, Any]) -> Iterator[str]:
    """What is not as edit number ``edit``, the last one acknowledged, left it, nor as the next one would."""
    if edit:
        found = (status["show"], round(status["lights"]["window"]["level"], 4))
        for left, known, later in zip(found, state_after(edit), state_after(edit + 1), strict=True):
            if left not in (known, later):
                yield f"edit {edit} was acknowledged, which makes {known}; left is {left}"


def burst(sandbox: Sandbox, edit: int, kill_after_s: float) -> int:
    """Sends edits after number ``edit`` until everything is killed; returns the last one acknowledged."""
    endpoint = sandbox.endpoint()
    assert endpoint is not None
    cut = threading.Timer(
        kill_after_s,
        lambda: [kill(pid) for pid in (endpoint["supervisor_pid"], endpoint["pid"])],  # type: ignore[func-returns-value]
    )
    with socket.create_connection(("127.0.0.1", endpoint["port"]), timeout=WAIT_S) as link:
        link.sendall(f"{json.dumps({'hello': {'token': endpoint['token']}})}\n".encode())
        lines = link.makefile(encoding="utf-8")
        lines.readline()
        cut.start()
        with contextlib.suppress(ConnectionError):
            while True:
                link.sendall(f"{json.dumps({'id': edit + 1, 'command': command(edit + 1)})}\n".encode())
                reply = lines.readline()
                if not reply:
                    break
                # Not done anew where the one that was not acknowledged before the kill had been kept.
                answer = json.loads(reply)
                assert answer["id"] == edit + 1 and "changed" in answer, answer
                edit += 1
        cut.join()
    return edit


def command(edit: int) -> dict[str, Any]:
    name, level = state_after(edit)
    if edit % 2:
        return {"kind": "rename", "name": name}
    return {"kind": "set", "fixtures": ["window"], "level": level}


def state_after(edit: int) -> tuple[str, float]:
    """The show's name and the lamp's level after that many edits."""
    return f"Night {(edit + 1) // 2}", (edit // 2 % LEVELS) / 1000
