"""Rendering: how surfaces fare under a lamp, worked out in a process of its own.

The libraries behind it take a second to load and more memory than the whole engine, so the engine never
loads them: it hands the question to a helper process of low priority, waits in a thread, and gives up after
``HELPER_S``. Run as a module, this is that helper: one question in JSON on standard input, one answer on
standard output.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import subprocess
import sys
from dataclasses import asdict
from typing import Any

from onecrew.errors import Trouble
from onecrew.show.light import Light
from onecrew.show.profile import Profile
from onecrew.show.show import MIXINGS, Fixture

HELPER_S = 30.0
"""Longest time that an answer may take, seconds: the first use after an installation compiles a lot."""
BACKGROUND = int(getattr(subprocess, "CREATE_NO_WINDOW", 0)) | int(
    getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
)
NICE = 10


async def rendition(fixture: Fixture, profile: Profile, light: Light) -> dict[str, Any]:
    """The rendition of ``light`` on a fixture as it is set, and by the other way of mixing.

    ``{"mixes": [{"mixing", "used", "stops", "rendition"}], "note"}``: ``stops`` is what the mix costs against
    the brightest, ``rendition`` has ``ra, rf, rg, ssi, cct_k, duv`` or is None, ``note`` says how far to
    trust it or why it is not known. Raises ``Trouble`` where the helper fails or takes over ``HELPER_S``.
    """
    question = {
        "fixture": fixture.model_dump(mode="json"),
        "profile": profile.model_dump(mode="json", exclude_none=True),
        "light": light.model_dump(mode="json", exclude_none=True),
    }
    helper = _Helper()
    try:
        return await asyncio.to_thread(helper.ask, json.dumps(question).encode())
    except asyncio.CancelledError:
        helper.give_up()
        raise


class _Helper:
    """One helper process, asked in one thread and given up from another."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._given_up = False

    def ask(self, question: bytes) -> dict[str, Any]:
        try:
            process = self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "onecrew.engine.rendering"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
                creationflags=BACKGROUND,
            )
        except OSError as error:
            raise Trouble(f"the rendition could not be worked out ({error.strerror})") from error
        with process:
            if self._given_up:
                process.kill()
            try:
                answer, said = process.communicate(question, timeout=HELPER_S)
            except subprocess.TimeoutExpired:
                process.kill()
                raise Trouble(f"the rendition took longer than {HELPER_S:g} s and was given up") from None
        if process.returncode != 0:
            last = said.decode("utf-8", "replace").strip().rpartition("\n")[2]
            raise Trouble(f"the rendition could not be worked out ({last or f'status {process.returncode}'})")
        found: dict[str, Any] = json.loads(answer)
        return found

    def give_up(self) -> None:
        self._given_up = True
        if self._process is not None:
            self._process.kill()


# ── In the helper ───────────────────────────────────────────────────────────────────────────────────


def worked_out(question: dict[str, Any]) -> dict[str, Any]:
    """The answer to a question of ``rendition``."""
    from onecrew.fixtures.describe import describe_lights
    from onecrew.fixtures.spectral import best_rendition_stops, rendition_of

    fixture = Fixture.model_validate(question["fixture"])
    profile = Profile.model_validate(question["profile"])
    light = Light.model_validate(question["light"])
    mode = profile.mode(fixture.mode)
    assert mode is not None  # the engine has checked
    mixes, note = [], ""
    for mixing in MIXINGS:
        lamp = fixture.model_copy(update={"mixing": mixing})
        [report] = describe_lights(lamp, {profile.id: profile}, [light])
        stops = best_rendition_stops(profile, mode, report.xy)
        if mixing == "best-rendition" and stops is None:
            break  # it has no other way of mixing
        found, note = rendition_of(profile, mode, report.drives)
        mixes.append(
            {
                "mixing": mixing,
                "used": stops is None or mixing == fixture.mixing,
                "stops": stops if mixing == "best-rendition" else 0.0,
                "rendition": None if found is None else asdict(found),
            }
        )
    return {"mixes": mixes, "note": note}


def main() -> int:
    """Answers the question on standard input."""
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(NICE)
    json.dump(worked_out(json.load(sys.stdin)), sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main())
