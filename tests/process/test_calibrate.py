"""A calibration against a real engine: however it ends, no lamp is left alone at full."""

from __future__ import annotations

import signal
import subprocess

import pytest

from tests.process.sandbox import Sandbox
from tests.process.single_lamp import (
    PENDANT,
    at_rest,
    end_and_wait,
    kill_and_wait,
    steady,
    window_alone,
)
from tests.tui.test_session import ENTER, F4, Window


def calibrate(sandbox: Sandbox) -> subprocess.Popen[str]:
    """Starts ``onecrew calibrate`` with a pipe to type into, and waits for the lamp to be alone at full."""
    mark = len(sandbox.receiver.packets)
    process = sandbox.start("calibrate", str(sandbox.show), "window", typed=True)
    sandbox.receiver.wait(window_alone, mark)
    return process


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_killed_what_is_on_the_wire_is_what_was_before(sandbox: Sandbox, sign: signal.Signals) -> None:
    at_rest(sandbox)
    sandbox.send("set", "window", "12%")  # not stored: it must be there again too
    sandbox.wait_status(lambda status: abs(status["lights"]["window"]["level"] - 0.12) < 0.001)
    before = steady(sandbox)
    kill_and_wait(calibrate(sandbox), sign, sandbox, before)


# ── From the screens ────────────────────────────────────────────────────────────────────────────────


def calibrate_on_rig(sandbox: Sandbox) -> Window:
    """The screens, with the calibration of the window open on Rig."""
    window = Window(sandbox, sandbox.show)
    window.child.expect("NOW")
    mark = len(sandbox.receiver.packets)
    window.type(F4, "=", "w")
    sandbox.receiver.wait(window_alone, mark)
    return window


def read_all(window: Window) -> None:
    """Types a reading for every white, until the closing check begins."""
    for _ in range(20):
        window.child.expect(r"window, \d+ of \d+: ([\d.]+) K")
        kelvin = float(window.child.match[1])
        window.type(*f"{0.98 * kelvin:.0f} 0.001 800", ENTER)
        if window.child.expect(["2 of|3 of|4 of|5 of|6 of|7 of|8 of|9 of", "Closing check"]) == 1:
            return


@pytest.mark.parametrize("end", ["escape", "kill", "kill in the closing check"])
def test_ended_on_the_screens_the_light_is_what_was_before(sandbox: Sandbox, end: str) -> None:
    before = at_rest(sandbox)
    window = calibrate_on_rig(sandbox)
    if "check" in end:
        mark = len(sandbox.receiver.packets)
        read_all(window)
        sandbox.receiver.wait(lambda packet: any(packet.slots[:2]) and packet.slots[PENDANT] == 0, mark)
    end_and_wait(window, end, sandbox, before)
    assert "calibration" not in sandbox.show.read_text(encoding="utf-8")
    window.child.close(force=True)
