"""What the fields of the state say: complete, and enough to move them in time and over to another rig."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_type_hints

import numpy as np
import pytest

from onecrew.colour.arrays import FloatArray
from onecrew.commands.countdown import Countdown
from onecrew.commands.light import Identify, SetLight, Solo
from onecrew.commands.running import Recall
from onecrew.commands.takes import TakeStart
from onecrew.playback.codec import rebase, shift, to_json
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.fields import Kind, Per, What, kinds
from onecrew.playback.state import Playback
from onecrew.show.light import Effect
from tests.playback.stage import PROFILES, cue, show_of, stage


def parts(type_: Any = Playback) -> Iterator[tuple[Any, str, Kind]]:
    """Every field of the state, down to the last part."""
    for name, kind in kinds(type_):
        yield type_, name, kind
        if kind.what is What.PART:
            yield from parts(kind.part)


def test_every_number_says_whose_it_is_or_which_time_it_is_in() -> None:
    found = list(parts())
    assert len(found) > 60
    for type_, name, kind in found:
        bare = get_type_hints(type_)[name] in (float, float | None)
        said = get_type_hints(type_, include_extras=True)[name]
        assert not (bare and said in (float, float | None)), f"{type_.__name__}.{name}: which time?"
        assert kind.what is not What.ARRAY or kind.per in Per


def test_an_array_that_says_nothing_is_refused() -> None:
    @dataclass(frozen=True)
    class State:
        level: FloatArray

    State.__annotations__["level"] = FloatArray
    with pytest.raises(TypeError, match="whose numbers"):
        kinds(State)


def test_there_and_back_in_time_and_in_the_rig_is_the_same_state() -> None:
    lamps = {"a": "linear", "b": "square", "c": "log"}
    flame = {"level": 0.5, "effect": {"kind": "flame", "seed": 3}}
    cues = [cue("1", {"a": flame, "b": 0.3}, auto_follow_s=8.0), cue("2", {"c": 0.9})]
    desk = stage(lamps, cues)
    desk.do(64.0, Recall(cue="1"), Identify(fixtures=("b",)), Countdown(seconds=9.0), TakeStart())
    desk.do(65.0, SetLight(fixtures=("c",), effect=Effect(kind="television")), Solo(fixtures=("a", "c")))
    before = to_json(desk.playback)
    # Powers of two: no rounding on the way there and back.
    moved = shift(shift(desk.playback, 2.0**10, remembering=True), -(2.0**10), remembering=True)
    turned = compile_show(show_of(dict(reversed(lamps.items())), cues), PROFILES)
    there = rebase(desk.playback, desk.compiled, turned)
    assert there.ids == ("c", "b", "a")
    assert there.movement.goal.level.tolist() == desk.playback.movement.goal.level[::-1].tolist()
    assert to_json(rebase(there, turned, desk.compiled)) == before
    assert np.isclose(moved.pulse_since, desk.playback.pulse_since)
    assert to_json(moved)["countdown"] == before["countdown"]
