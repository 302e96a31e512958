"""An engine loads what it makes light with before its first packet; all else would cost memory and time."""

from __future__ import annotations

import subprocess
import sys

from onecrew.engine.successors import SMALL, SPARE
from tests.process.sandbox import Sandbox

NOT_NEEDED = {
    "PIL", "aiohttp", "argparse", "csv", "email", "http", "multiprocessing", "onecrew.cli", "onecrew.osc",
    "onecrew.phone", "onecrew.plan", "onecrew.sheet", "onecrew.stills", "onecrew.tui", "pythonosc", "rich",
    "scipy", "segno", "textual", "unittest", "xml", "zipfile",
}  # fmt: skip
"""Not OpenSSL: it is tried for and not found, which Python's list of imports does not tell apart."""


def test_a_fresh_engine_loads_nothing_that_makes_no_light(sandbox: Sandbox) -> None:
    # One that waits to take another's place does all its imports, and ends with its standard input.
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-P", "-m", "onecrew.engine", SPARE, str(sandbox.show)],
        env={**sandbox.env, **SMALL},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    loaded = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert {"onecrew.engine.process", "onecrew.playback.render", "numpy", "pydantic"} <= loaded
    assert loaded & NOT_NEEDED == set()
