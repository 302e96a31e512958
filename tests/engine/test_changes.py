"""Changes put on the state before are the state itself, for any client and any way of a show."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.table import parse_command
from onecrew.engine.changes import Changes, patched
from onecrew.engine.desk import Desk
from onecrew.engine.snapshots import snapshot_of
from onecrew.errors import OnecrewError
from onecrew.network.json_lines import as_json
from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved, Snapshot

PROFILES = load_profiles([shipped("profiles")])
LAMPS = [f"lamp{index}" for index in range(40)]  # more than are reported on at a stretch
KIND = {"profile": "spot-six", "mode": "16-bit", "role": "fill"}
RIG = [
    {"id": name, **KIND, "universe": 1 + at // 30, "address": 1 + 14 * (at % 30)}
    for at, name in enumerate(LAMPS)
]
SHOW = Show.model_validate(
    {
        "name": "changes",
        "rig": {"fixtures": RIG},
        "cues": [{"number": "1", "look": {name: {"level": 0.5} for name in LAMPS[::2]}}],
    }
)
COMMANDS: list[dict[str, Any]] = [
    {"kind": "set", "fixtures": LAMPS[:1], "level": 0.3},
    {"kind": "set", "fixtures": LAMPS[35:], "level": 0.7, "fade_s": 2.0},
    {"kind": "recall", "cue": "1", "fade_s": 1.0},
    {"kind": "solo", "fixtures": LAMPS[3:4]},
    {"kind": "blackout", "on": True},
    {"kind": "blackout", "on": False},
    {"kind": "store", "cue": "2"},
    {"kind": "remove-fixture", "id": LAMPS[7]},
    {"kind": "undo"},
    {"kind": "redo"},
]


@pytest.mark.parametrize("command", COMMANDS)
def test_the_commands_of_the_law_are_commands(command: dict[str, Any]) -> None:
    parse_command(command)


@given(
    st.lists(
        st.tuples(st.sampled_from(COMMANDS), st.floats(0.0, 3.0), st.sets(st.integers(0, 2))),
        min_size=1,
        max_size=5,
    )
)
def test_law_changes_on_the_state_before_are_the_state(
    steps: list[tuple[dict[str, Any], float, set[int]]],
) -> None:
    """Three clients that hear at any of the steps end up with the whole state each time they hear."""
    desk, changes, now = Desk(SHOW, PROFILES, 0.0), Changes(), 0.0
    heard, states = [0, 0, 0], dict[int, Snapshot]()
    for command, later, listening in steps:
        now += later
        try:
            desk.carry_out(parse_command(command), now)
        except OnecrewError:
            desk.advance(now)
        whole = told(changes, desk, now)
        for client in listening:
            lines = [json.loads(line) for line in changes.since(heard[client]).splitlines()]
            if "snapshot" in lines[-1]:
                states[client] = Snapshot.model_validate(lines[-1]["snapshot"])
            else:
                states[client] = patched(states[client], lines[-1]["changes"])
            heard[client] = changes.number
            assert states[client] == whole
            assert list(states[client].lights) == list(whole.lights)


def test_one_lamp_that_changed_is_one_lamp_on_the_line_and_the_show_comes_once() -> None:
    desk, changes = Desk(SHOW, PROFILES, 0.0), Changes()
    told(changes, desk, 0.0)
    assert changes.since(0).startswith(b'{"show":{}}\n{"snapshot":{')
    desk.carry_out(parse_command(COMMANDS[0]), 1.0)
    told(changes, desk, 1.0)
    [line] = changes.since(1).splitlines()
    assert set(json.loads(line)["changes"]["lights"]) == {"lamp0"}
    assert changes.since(2) == b'{"changes":{}}\n'
    assert changes.since(1) is changes.since(1)  # made once for all


def test_the_beginning_of_a_take_is_told_once_whichever_frame_a_state_is_of(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = Clock(5.0)
    monkeypatch.setattr("onecrew.engine.snapshots.time", clock)
    desk, changes = Desk(SHOW, PROFILES, 0.0), Changes()
    desk.carry_out(parse_command({"kind": "take-start"}), 1.0)
    first = told(changes, desk, 5.0)
    assert first.take is not None and first.take.since == WALL + 1.0
    for now, behind_s in ((6.0, 0.02), (7.0, 0.011)):
        clock.now = now
        told(changes, desk, now - behind_s)
        assert changes.since(changes.number - 1) == b'{"changes":{}}\n'
    clock.set_by_s = 3600.0  # somebody sets the clock on the wall
    assert told(changes, desk, 8.0).take == first.take.model_copy(update={"since": WALL + 3601.0})


WALL = 1767621731.0


class Clock:
    """Stands in for the two clocks; a reading of one is never quite that of the other."""

    def __init__(self, now: float) -> None:
        self.now = now
        self.set_by_s = 0.0
        self._readings = 0

    def monotonic(self) -> float:
        self._readings += 1
        return self.now + 1e-5 * (self._readings % 7)

    def time(self) -> float:
        return WALL + self.set_by_s + self.monotonic()


def test_changes_of_an_unknown_lamp_are_refused() -> None:
    changes = Changes()
    whole = told(changes, Desk(SHOW, PROFILES, 0.0), 0.0)
    with pytest.raises(ValueError, match="lamps that there are none of"):
        patched(whole, {"lights": {"nobody": {}}})


def told(changes: Changes, desk: Desk, now: float) -> Snapshot:
    """The state of now, taken by ``changes``."""
    fields, parts = snapshot_of(
        desk,
        now,
        path="x",
        outputs=[],
        saved=Saved(),
        remote={},
        logged=Saved(),
        pids=(1, None),
        message=("", 0),
    )
    lights = {name: light for part in parts for name, light in part.items()}
    changes.take(b"{}", fields, {name: as_json(light) for name, light in lights.items()})
    return Snapshot.model_validate(json.loads(as_json({**fields, "lights": lights})))
