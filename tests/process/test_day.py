"""A day by keys alone: an empty show, three scenes, the same take twice, its sheet; the wire at each step."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from onecrew.commands.takes import TakeStart
from tests.process.sandbox import Sandbox
from tests.process.test_takes import Script, in_this_order, performed
from tests.tui.test_session import ENTER, F2, F3, F4, TAB, Window, carries

F6, F9, UP, DOWN = "\x1b[17~", "\x1b[20~", "\x1b[A", "\x1b[B"
MOST_KEYS = 80
"""From nothing to a recalled look with one lamp."""
HIGH, LOW = 56, 82
"""22 % of 16 bits is 14418 = 56 × 256 + 82 by a linear dimmer (own arithmetic)."""


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path)
    yield sandbox
    sandbox.close()


class Day:
    """The window, and what left on the wire."""

    def __init__(self, sandbox: Sandbox) -> None:
        self.sandbox, self.w = sandbox, Window(sandbox, sandbox.folder / "new-show.json", ())

    def sees(self, *slots: int, after: int) -> None:
        """These slots leave, and stay: they are the newest after the last fade."""
        self.sandbox.receiver.wait(carries(*slots), after)

    @property
    def mark(self) -> int:
        return len(self.sandbox.receiver.packets)

    def scene(self, name: str) -> dict[str, Any] | None:
        scenes = self.w.document()["scenes"] if self.w.show.exists() else []
        return next((scene for scene in scenes if scene["name"] == name), None)

    def cue(self, scene: str, name: str) -> dict[str, Any] | None:
        found = self.scene(scene)
        return (
            next((cue for cue in found.get("cues", ()) if cue.get("name") == name), None) if found else None
        )

    def _rolls(self, running: bool) -> bool:
        take = self.sandbox.wait_status()["take"]
        return take is not None and take["running"] is running

    def a_pass(self) -> list[bytes]:
        """The take from black into cue 1, until its fade has run: what left, each look once."""
        mark = self.mark
        self.w.type(F2, "T", *"A from black 1", ENTER)
        self.w.wait(lambda: self._rolls(True) and self.sandbox.wait_status()["fade"] is None)
        self.sees(HIGH, LOW, after=mark)
        self.w.type("g")
        self.w.wait(lambda: self._rolls(False))
        self.sandbox.receiver.catch_up()
        slots = [packet.slots for packet in self.sandbox.receiver.since(mark) if packet.universe == 1]
        return [look for look, _ in groupby(slots)]


def test_a_day_from_nothing_to_the_sheet_of_a_take(
    sandbox: Sandbox, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = Day(sandbox)
    w = day.w

    # From nothing to one lamp on one key.
    w.child.expect("which show")
    w.type("n", ENTER)
    w.child.expect("adds the first lamp")
    w.type("a", *"panel cct 16-bit", ENTER, ENTER)
    w.wait(lambda: w.show.exists() and w.fixtures())
    w.type("y", "p", *f"127.0.0.1:{sandbox.receiver.port}", ENTER)
    w.wait(lambda: day.mark > 0)
    w.type(F3, *"22 34", ENTER, "S", ENTER)
    w.wait(lambda: w.cue("1"))
    w.type("1", "0", ENTER)
    mark = day.mark
    w.type(F2, "1")
    day.sees(HIGH, LOW, after=mark)
    assert w.keys <= MOST_KEYS

    # A second lamp, and a second look, in the same scene; the first look is not replaced by storing.
    w.type(F4, "a", *"rgbww bulb", ENTER, *"oven", TAB, *"practical", ENTER)
    w.wait(lambda: "oven" in w.fixtures())
    w.type(F3, *"40 22", ENTER, "S", *"Ovens on", ENTER)
    second = w.wait(lambda: day.cue("Scene 1", "Ovens on"))
    assert second["look"]["oven"]["level"] == 0.4
    first = w.cue("1")
    assert first is not None and "oven" not in first["look"]

    # Two more scenes, each arranged like the one before and with a look of its own.
    for name, level, slots in (("Delivery", "9", (23, 10)), ("Yard", "3.5", (8, 246))):
        mark = day.mark
        w.type(F9, "a", *name, ENTER)
        w.wait(lambda name=name: day.scene(name))  # type: ignore[misc]
        w.type(F3, UP, *level, ENTER, "S", *f"{name} look", ENTER)
        cue = w.wait(lambda name=name: day.cue(name, f"{name} look"))  # type: ignore[misc]
        # 9 % and 3.5 % of 65535 are 5898 and 2294 (own arithmetic, rounded half up).
        day.sees(*slots, after=mark)
        w.type(F4, F3, DOWN)
        assert cue["number"] not in ("1", second["number"])

    # Back in the first scene: the take twice. A machine that is late leaves frames out; every one that left
    # is one of the frames that the take has on a machine that is never late, in their order.
    w.type(F9, UP, UP, ENTER)
    passes = day.a_pass(), day.a_pass()
    with monkeypatch.context() as patch:
        script: Script = [(1.0, TakeStart(chain_from="1", from_black=True))]
        shown = w.show.read_text(encoding="utf-8")
        sent = performed(script, tmp_path / "never-late", patch, now=1000.0, late=None, show=shown)
    frames = [look for look, _ in groupby(sent[1])]
    for _before, *heard in passes:  # the first packet may still be what was before
        assert in_this_order(heard, frames), "a frame that the take does not have"
        assert heard[-1] == frames[-1] and len(heard) > 0.4 * len(frames)

    # The list of takes: the second one's sheet has what was filmed, and its look comes back as a cue.
    w.type(F6, "k")
    w.child.expect("export for the edit")
    w.type(ENTER, *"take.json", ENTER)
    sheet = w.wait(lambda: read_if_whole(sandbox.folder / "take.json"))
    assert (sheet["take"]["setup"], sheet["take"]["number"]) == ("A", 2)
    assert "0.22" in json.dumps(sheet) and "panel1" in json.dumps(sheet)
    w.child.expect("Look sheet of take A/2:")
    w.type("k")
    w.child.expect("export for the edit")
    w.type("r")
    again = f"{first.get('name', '')} A/2".strip()
    restored = w.wait(lambda: day.cue("Scene 1", again))
    assert restored["look"] == first["look"]

    # The version before that comes back from the list of versions, and undo takes it back.
    w.type("*")
    w.child.expect("as it is now")
    w.type(DOWN, "r")
    w.wait(lambda: day.cue("Scene 1", again) is None)
    w.type("u")
    w.wait(lambda: day.cue("Scene 1", again))
    w.child.close(force=True)


def read_if_whole(path: Path) -> dict[str, Any] | None:
    """A file of JSON, once it is there."""
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else None
