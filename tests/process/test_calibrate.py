"""A calibration against a real engine: however it ends, no lamp is left alone at full."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.process.house import WAIT_S, House
from tests.tui.test_session import ENTER, F4, Window
from tests.wire.e131_layout import Packet

PENDANT = 20
"""Slot of the pendant, from 0."""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    folder = tmp_path / "house"
    folder.mkdir()
    house = House(folder)
    yield house
    house.close()


def calibrate(house: House) -> subprocess.Popen[str]:
    """Starts ``onecrew calibrate`` with a pipe to type into, and waits for the lamp to be alone at full."""
    mark = len(house.ear.packets)
    process = house.start("calibrate", str(house.show), "window", typed=True)
    house.ear.wait(window_alone, mark)
    return process


def window_alone(packet: Packet) -> bool:
    return tuple(packet.slots[:2]) == (255, 255) and packet.slots[PENDANT] == 0


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_killed_what_is_on_the_wire_is_what_was_before(house: House, sign: signal.Signals) -> None:
    house.engine()
    house.send("recall", "1", "in", "0s")
    house.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    house.send("set", "window", "12%")  # not stored: it must be there again too
    house.wait_status(lambda status: abs(status["lights"]["window"]["level"] - 0.12) < 0.001)
    mark = len(house.ear.packets)
    house.ear.wait(lambda _: len(house.ear.packets) > mark + 1, mark)
    before = tuple(house.ear.packets[-1][1].slots)
    process = calibrate(house)
    mark = len(house.ear.packets)
    os.kill(process.pid, sign)
    process.wait(WAIT_S)
    house.ear.wait(lambda packet: tuple(packet.slots) == before, mark)
    house.wait_status(lambda status: status["still"] is None)


def test_killed_with_an_engine_of_its_own_it_leaves_black(house: House) -> None:
    process = calibrate(house)
    mark = len(house.ear.packets)
    os.kill(process.pid, signal.SIGKILL)
    process.wait(WAIT_S)
    house.ear.wait(lambda packet: not any(packet.slots[:2]) and packet.slots[PENDANT] == 0, mark)


# ── From the screens ────────────────────────────────────────────────────────────────────────────────


def at_rest(house: House) -> tuple[int, ...]:
    """An engine with a cue at rest, and what leaves of it."""
    house.engine()
    house.send("recall", "1", "in", "0s")
    house.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    mark = len(house.ear.packets)
    house.ear.wait(lambda _: len(house.ear.packets) > mark + 1, mark)
    return tuple(house.ear.packets[-1][1].slots)


def calibrate_on_rig(house: House) -> Window:
    """The screens, with the calibration of the window open on Rig."""
    window = Window(house, house.show)
    window.child.expect("NOW")
    mark = len(house.ear.packets)
    window.type(F4, "=")
    house.ear.wait(window_alone, mark)
    return window


def read_all(window: Window) -> None:
    """Types a reading for every white, until the closing check begins."""
    for _ in range(20):
        window.child.expect(r"window, \d+ of \d+: ([\d.]+) K")
        kelvin = float(window.child.match[1])  # type: ignore[index]
        window.type(*f"{0.98 * kelvin:.0f} 0.001 800", ENTER)
        if window.child.expect(["2 of|3 of|4 of|5 of|6 of|7 of|8 of|9 of", "Closing check"]) == 1:
            return


@pytest.mark.parametrize("end", ["escape", "kill", "kill in the closing check"])
def test_ended_on_the_screens_the_light_is_what_was_before(house: House, end: str) -> None:
    before = at_rest(house)
    window = calibrate_on_rig(house)
    if "check" in end:
        mark = len(house.ear.packets)
        read_all(window)
        house.ear.wait(lambda packet: any(packet.slots[:2]) and packet.slots[PENDANT] == 0, mark)
    mark = len(house.ear.packets)
    if end == "escape":
        window.type("\x1b")
    else:
        window.child.kill(signal.SIGKILL)
    house.ear.wait(lambda packet: tuple(packet.slots) == before, mark)
    house.wait_status(lambda status: status["still"] is None)
    assert "calibration" not in house.show.read_text(encoding="utf-8")
    window.child.close(force=True)
