"""Mounts and networks of a test's own, in Linux namespaces that vanish with the process that holds them.

As root, or as any user where the system lets users make namespaces. Elsewhere ``Namespaces.possible``
is false and the same faults are injected (``tests/process/injected``): each test of a fault names the way
in its own name.
"""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Literal

import pytest

from tests.process.sandbox import WAIT_S

TOOLS = ("unshare", "nsenter", "mount", "ip")
HOLD_S = "600"
"""The holder ends by itself, should the test die."""


class Namespaces:
    """A mount or a network namespace. ``close`` it when done."""

    def __init__(self, kind: Literal["mount", "net"], beside: Namespaces | None = None) -> None:
        """``beside``: under the same user namespace, so that a cable can be laid between the two."""
        users = beside is None and os.geteuid() != 0
        asked = ["unshare", f"--{kind}", *(["--user", "--map-root-user"] if users else [])]
        self.prefix: list[str]
        before = beside.prefix if beside is not None else []
        self._holder = subprocess.Popen([*before, *asked, "sleep", HOLD_S])
        self.pid = self._holder.pid
        own_user = ["--user", "--preserve-credentials"] if os.geteuid() != 0 else []
        self.prefix = ["nsenter", "--target", str(self.pid), *own_user, f"--{kind}"]
        """What goes before a command to run it in here."""
        deadline = time.monotonic() + WAIT_S
        while Path(f"/proc/{self.pid}/comm").read_text() != "sleep\n":  # nsenter, then unshare, then sleep
            assert self._holder.poll() is None and time.monotonic() < deadline, (
                "the namespace did not come up"
            )
            time.sleep(0.005)
        if kind == "net":
            self.run("ip", "link", "set", "lo", "up")

    @staticmethod
    @functools.cache
    def possible() -> bool:
        """Whether this machine lets this user have them."""
        if sys.platform != "linux" or not all(shutil.which(tool) for tool in TOOLS):
            return False
        users = ["--user", "--map-root-user"] if os.geteuid() != 0 else []
        trial = "mount -t tmpfs tmpfs /tmp && ip link add name desk type veth peer name lamp"
        command = ["unshare", "--mount", "--net", *users, "sh", "-c", trial]
        return subprocess.run(command, capture_output=True, timeout=WAIT_S).returncode == 0

    def run(self, *words: str) -> str:
        """Runs a command in here; returns what it said."""
        done = subprocess.run([*self.prefix, *words], capture_output=True, text=True, timeout=WAIT_S)
        assert done.returncode == 0, f"{' '.join(words)}: {done.stderr}"
        return done.stdout

    def seen(self, path: Path) -> Path:
        """Where a file of in here can be read from outside."""
        return Path(f"/proc/{self.pid}/root") / path.relative_to("/")

    def close(self) -> None:
        self._holder.kill()
        self._holder.wait(WAIT_S)


def needs_namespaces() -> None:
    """Skips a test, visibly, where the machine has no namespaces to give; its injected twin runs anyway."""
    if not Namespaces.possible():
        pytest.skip("this machine gives no namespaces to this user: the injected twin of this test ran")
