"""Guard: a second process that gives lent light back when the first one is gone, however it was ended.

    python -m onecrew.cli.stills_guard

It reads what is to be given back, one line of JSON, and then waits: for ``done``, or for the end of its
input, which comes by itself when the other process dies.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from onecrew.cli.engine import stop
from onecrew.cli.stills_light import give_back_from_outside
from onecrew.errors import OnecrewError, Refused

LINE_LIMIT = 1 << 20
RETRY_S = 1.0
PATIENCE = 1800
"""So often it is tried where the desk is locked: half an hour."""


@contextlib.contextmanager
def guarded_loan(before: dict[str, Any], stop: bool) -> Iterator[None]:
    """Have the light given back by a second process should this one not come to the end of the block.

    With ``stop`` the engine was started for the stills alone, and ends then.
    """
    process = subprocess.Popen(
        [sys.executable, "-P", "-m", "onecrew.cli.stills_guard"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    assert process.stdin is not None
    try:
        process.stdin.write(json.dumps({**before, "stop": stop}).encode() + b"\n")
        process.stdin.flush()
        yield
        with contextlib.suppress(OSError):
            process.stdin.write(b"done\n")
    finally:
        with contextlib.suppress(OSError):
            process.stdin.close()
        process.returncode = 0  # it may outlive us: nobody here waits for it


def main() -> int:
    """Wait, and give the light back where nobody else did; returns the exit status."""
    first = sys.stdin.buffer.readline(LINE_LIMIT)
    if not first:
        return 0
    before = json.loads(first)
    if sys.stdin.buffer.readline(16).strip() == b"done":
        return 0
    with contextlib.suppress(OnecrewError, OSError):
        _give_back(Path(before["show"]), before)
        if before["stop"]:
            stop(Path(before["show"]), 0.5)
    return 0


def _give_back(show: Path, before: dict[str, Any]) -> None:
    """Gives the light back, as soon as the desk allows it: a lock holds what shows."""
    for _ in range(PATIENCE):
        try:
            asyncio.run(give_back_from_outside(show, before))
        except Refused:
            time.sleep(RETRY_S)
        else:
            return


if __name__ == "__main__":
    sys.exit(main())
