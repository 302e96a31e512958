"""A real session: a pseudo-terminal, the real engine, real packets. From an empty show to a recalled look."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.wire.e131_layout import Packet

pexpect = pytest.importorskip("pexpect", reason="pseudo-terminals need pexpect and a POSIX system")

ENTER, TAB, DOWN = "\r", "\t", "\x1b[B"
F2, F3, F4 = "\x1bOQ", "\x1bOR", "\x1bOS"
PAGE_DOWN, PAGE_UP, CTRL_Q = "\x1b[6~", "\x1b[5~", "\x11"


class Window:
    """A terminal window with the screens in it."""

    def __init__(self, sandbox: Sandbox, show: Path, words: Sequence[str] | None = None) -> None:
        """``words`` for the command line; None opens the show."""
        self.show = show
        self.keys = 0
        """Keys typed so far."""
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "onecrew.cli", *(("open", str(show)) if words is None else words)],
            cwd=str(sandbox.folder),
            env={**sandbox.env, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
            dimensions=(24, 80),
            encoding="utf-8",
            codec_errors="replace",
            timeout=WAIT_S,
        )
        sandbox.receiver.pause = (
            self.read
        )  # screens that nobody reads stop at a full pipe, and so do their keys

    def type(self, *keys: str) -> None:
        """Types keys one at a time, reading what the screens draw meanwhile."""
        for key in keys:
            self.child.send(key)
            self.keys += 1
            self.read(0.015)

    def read(self, for_s: float) -> None:
        if self.child.closed:
            time.sleep(for_s)
            return
        with contextlib.suppress(pexpect.TIMEOUT, pexpect.EOF):
            self.child.expect("never drawn, only waited for", timeout=for_s)

    def wait(self, condition: Callable[[], Any]) -> Any:
        deadline = time.monotonic() + WAIT_S
        while not (found := condition()):
            assert time.monotonic() < deadline, self.child.buffer[-2000:]
            self.read(0.05)
        return found

    def document(self) -> dict[str, Any]:
        return dict(json.loads(self.show.read_text(encoding="utf-8")))

    def fixtures(self) -> list[str]:
        return [fixture["id"] for fixture in self.document().get("rig", {}).get("fixtures", [])]

    def cue(self, number: str) -> dict[str, Any] | None:
        return next(
            (cue for cue in self.document()["scenes"][0].get("cues", []) if cue["number"] == number), None
        )


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path)
    yield sandbox
    sandbox.close()


@contextlib.contextmanager
def window(sandbox: Sandbox, show: Path) -> Iterator[Window]:
    opened = Window(sandbox, show)
    try:
        opened.child.expect("NOW")
        yield opened
    finally:
        opened.child.close(force=True)


def carries(*wanted: int) -> Callable[[Packet], bool]:
    """Packets of universe 1 that begin with these slots."""
    return lambda packet: packet.universe == 1 and packet.slots[: len(wanted)] == bytes(wanted)


def test_from_an_empty_show_to_a_look_on_one_key(sandbox: Sandbox) -> None:
    show = sandbox.folder / "kitchen.json"
    assert sandbox.run("new", str(show), "--name", "Kitchen, night").returncode == 0
    with window(sandbox, show) as w:
        # Patch: three kinds found by typing, names and roles given, addresses as they are offered.
        w.type(F4)
        for kind, name, role in (
            ("panel cct 16-bit", "window", "key"),
            ("rgbww bulb", "lamp", "practical"),
            ("daylight spot 8-bit", "rim", "edge"),
        ):
            w.type("a", *kind, ENTER, *name, TAB, *role, ENTER)
            w.wait(lambda name=name: name in w.fixtures())  # type: ignore[misc]
        w.type("p", *f"127.0.0.1:{sandbox.receiver.port}", ENTER)
        w.wait(lambda: len(sandbox.receiver.packets) > 0)

        # Build the look, a lamp at a time, and store it; then a dark one.
        # The lamp patched last is the chosen one: down from it is the first.
        w.type(F3, DOWN, *"22 34", ENTER, DOWN, *"4 22", ENTER, DOWN, *"3", ENTER)
        w.type("S", *"Late supper", ENTER)
        cue = w.wait(lambda: w.cue("1"))
        assert cue["name"] == "Late supper" and cue["shortcut"] == "1"
        assert cue["look"]["window"]["level"] == 0.22 and cue["look"]["window"]["white"]["cct_k"] == 3400
        assert cue["look"]["lamp"]["level"] == 0.04 and cue["look"]["rim"]["level"] == 0.03
        w.type("A", *"=0", ENTER, "S", *"2 Dark", ENTER)
        w.wait(lambda: w.cue("2"))
        sandbox.receiver.wait(carries(0, 0), len(sandbox.receiver.packets))

        # Recall it by its own key. 22 % of 16 bits is 14418 = 56 × 256 + 82 by a linear dimmer.
        mark = len(sandbox.receiver.packets)
        w.type(F2, "1")
        packet = sandbox.receiver.wait(carries(56, 82), mark)
        cct = packet.slots[2] * 256 + packet.slots[3]
        assert abs(cct - round(65535 * (3400 - 2700) / (6500 - 2700))) <= 2, (
            "3400 K in a channel of 2700–6500 K"
        )
        rim = w.document()["rig"]["fixtures"][2]
        assert (rim["id"], packet.slots[rim["address"] - 1]) == ("rim", 8), (
            "3 % of 255, at the address offered"
        )

        # The clicker, then blackout and back.
        mark = len(sandbox.receiver.packets)
        w.type(PAGE_DOWN)
        sandbox.receiver.wait(carries(0, 0), mark)
        mark = len(sandbox.receiver.packets)
        w.type(PAGE_UP)
        sandbox.receiver.wait(carries(56, 82), mark)
        mark = len(sandbox.receiver.packets)
        w.type(".")
        sandbox.receiver.wait(carries(0, 0), mark)
        mark = len(sandbox.receiver.packets)
        w.type(".")
        sandbox.receiver.wait(carries(56, 82), mark)

        # Leave the lights as they are: the window goes, the packets go on.
        w.type(CTRL_Q, "l")
        w.child.expect(pexpect.EOF)
        sandbox.receiver.wait(carries(56, 82), len(sandbox.receiver.packets))


def test_a_window_that_is_killed_and_one_that_comes_back(sandbox: Sandbox) -> None:
    with window(sandbox, sandbox.show) as w:
        w.type("1")
        sandbox.receiver.wait(lambda packet: packet.slots[20] == 51)  # 20 % of 255
        os.kill(w.child.pid, 9)
        w.child.expect(pexpect.EOF)
    sandbox.receiver.wait(lambda packet: packet.slots[20] == 51, len(sandbox.receiver.packets))
    with window(sandbox, sandbox.show) as w:
        w.child.expect("Half")
        w.type("q", "f")
        w.child.expect(pexpect.EOF)
    sandbox.receiver.wait(lambda packet: packet.terminated)


def test_the_screens_outlive_the_engine(sandbox: Sandbox) -> None:
    with window(sandbox, sandbox.show) as w:
        w.type("1")
        sandbox.receiver.wait(lambda packet: packet.slots[20] == 51)
        status = sandbox.wait_status()
        kill(status["engine_pid"])
        w.child.expect("is back")
        mark = len(sandbox.receiver.packets)
        w.type("b")
        sandbox.receiver.wait(lambda packet: packet.slots[20] == 0, mark)
