"""Helper: a process of low priority for a question whose answer would hold up frames.

The libraries that it loads, its memory and its time are its own: the engine hands over the question as JSON,
waits in a thread, and gives up after a while, mostly ``HELPER_S``. A module that is such a helper calls
``main`` when run.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from typing import Any

from onecrew.errors import OnecrewError, Refused, Trouble

HELPER_S = 30.0
"""Longest time that an answer may take, seconds: the first use after an installation compiles a lot."""
BACKGROUND = int(getattr(subprocess, "CREATE_NO_WINDOW", 0)) | int(
    getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
)
NICE = 10


async def asked(
    module: str, question: Mapping[str, Any], what: str, within_s: float = HELPER_S
) -> dict[str, Any]:
    """The answer of a helper ``module`` to a question; ``what`` is what it works out, in words.

    Raises ``Refused`` with the helper's sentence, and ``Trouble`` where it fails or takes longer than that.
    """
    helper = _Helper(module, what, within_s)
    try:
        answer = await asyncio.to_thread(helper.ask, json.dumps(question).encode())
    except asyncio.CancelledError:
        helper.give_up()
        raise
    if isinstance(refused := answer.get("refused"), str):
        raise Refused(refused)
    return answer


class _Helper:
    """One helper process, asked in one thread and given up from another."""

    def __init__(self, module: str, what: str, within_s: float) -> None:
        self._module, self._what, self._within_s = module, what, within_s
        self._process: subprocess.Popen[bytes] | None = None
        self._given_up = False

    def ask(self, question: bytes) -> dict[str, Any]:
        try:
            process = self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", self._module],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
                creationflags=BACKGROUND,
            )
        except OSError as error:
            raise Trouble(f"{self._what} could not be worked out ({error.strerror})") from error
        with process:
            if self._given_up:
                process.kill()
            try:
                answer, said = process.communicate(question, timeout=self._within_s)
            except subprocess.TimeoutExpired:
                process.kill()
                raise Trouble(
                    f"{self._what} took longer than {self._within_s:g} s and was given up"
                ) from None
        if process.returncode != 0:
            last = said.decode("utf-8", "replace").strip().rpartition("\n")[2]
            reason = last or f"status {process.returncode}"
            raise Trouble(f"{self._what} could not be worked out ({reason})")
        found: dict[str, Any] = json.loads(answer)
        return found

    def give_up(self) -> None:
        self._given_up = True
        if self._process is not None:
            self._process.kill()


def main(answer: Callable[[dict[str, Any]], dict[str, Any]]) -> int:
    """In the helper: answers the question on standard input, or says in a sentence why it cannot."""
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(NICE)
    try:
        said = answer(json.load(sys.stdin))
    except OnecrewError as error:
        said = {"refused": str(error)}
    json.dump(said, sys.stdout)
    return 0
