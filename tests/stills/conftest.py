"""The rendered room: a run of stills of seven lamps, and three frames whose levels and whites are known."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from onecrew.show.show import Show
from onecrew.stills.match import match
from onecrew.stills.result import Match
from onecrew.stills.run import Run, read_run
from onecrew.stills.shotlist import read_shot_list
from onecrew.stills.stack import read_plate
from tests.stills.stage import PROFILES

ROOM = Path(__file__).parent / "room"


@dataclass(frozen=True)
class Room:
    """The run, and what the three frames are."""

    run: Run
    targets: tuple[dict[str, Any], ...]

    def matched(self, n: int) -> Match:
        return _matched(n)


def room_show() -> Show:
    """The rig of the room, by its list."""
    lamps = json.loads((ROOM / "truth.json").read_text())["lamps"]
    fixtures = [
        {
            "id": name,
            "profile": lamp["profile"],
            "mode": lamp["mode"],
            "universe": 1,
            "address": 1 + 60 * n,
            "role": "key",
        }
        for n, (name, lamp) in enumerate(lamps.items())
    ]
    return Show.model_validate({"name": "Room", "rig": {"fixtures": fixtures}})


@lru_cache(maxsize=1)
def the_room() -> Room:
    listed = read_shot_list(ROOM / "truth.json")
    run = read_run(room_show(), PROFILES, ROOM, listed)
    return Room(run, tuple(json.loads((ROOM / "truth.json").read_text())["targets"]))


@lru_cache(maxsize=3)
def _matched(n: int) -> Match:
    room = the_room()
    return match(room.run, read_plate(ROOM / room.targets[n]["file"], room.run.curve))


@pytest.fixture(scope="session")
def room() -> Room:
    return the_room()
