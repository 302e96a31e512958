"""Identify: a lamp pulses gently, whatever it does otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.commands.light import Identify
from onecrew.commands.running import Blackout, Master, Recall
from onecrew.playback.render import PULSE_HZ
from tests.playback.flashes import flashes_in_any_second
from tests.playback.stage import Stage, cue, stage


def desk() -> Stage:
    return stage(("dark", "lit"), [cue("1", {"lit": 1.0})]).do(0.0, Recall(cue="1", fade_s=0.0))


@pytest.mark.parametrize("lamp", ["dark", "lit"])
def test_a_lamp_pulses_slowly_and_visibly(lamp: str) -> None:
    room = desk().do(10.0, Identify(fixtures=(lamp,)))
    other = 1 - room.compiled.index[lamp]
    rate_hz = 50
    times = 12.0 + np.arange(20 * rate_hz) / rate_hz
    levels = room.levels(times)
    breath = levels[:, room.compiled.index[lamp]]
    assert np.ptp(breath) > 0.4
    assert breath.min() >= 0.05
    assert (levels[:, other] == levels[0, other]).all()
    crossings = np.count_nonzero(np.diff(breath > breath.mean()))
    assert crossings / 2 / 20 == pytest.approx(PULSE_HZ, abs=0.05)
    assert PULSE_HZ <= 0.5
    assert flashes_in_any_second(breath[:, None], rate_hz)[0] <= 1


def test_it_comes_and_goes_without_a_jump() -> None:
    room = desk().do(10.0, Identify(fixtures=("lit",)))
    assert room.level(10.0, "lit") == 1.0
    here = room.level(13.3, "lit")
    room.do(13.3, Identify())
    assert room.level(13.3, "lit") == here
    assert room.level(14.0, "lit") == 1.0
    assert not room.moving(14.0)


def test_it_moves_on_from_lamp_to_lamp() -> None:
    room = desk().do(10.0, Identify(fixtures=("lit",))).do(12.0, Identify(fixtures=("dark",)))
    assert room.level(13.0, "lit") == 1.0
    assert room.level(13.0, "dark") > 0.05
    assert room.moving(13.0)


def test_it_shows_at_any_master_but_not_in_a_blackout() -> None:
    room = desk().do(10.0, Master(level=0.0), Identify(fixtures=("lit",)))
    assert room.level(13.0, "lit") > 0.05
    room.do(14.0, Blackout())
    assert room.level(15.0, "lit") == 0.0
