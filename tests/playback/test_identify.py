"""Identify: a lamp pulses gently, whatever it does otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.commands.light import PULSED_S, Identify
from onecrew.commands.running import Blackout, Lock, Master, Recall
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.playback.events import PULSE_FADE_S, next_event
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


def test_a_dark_lamp_that_pulses_keeps_its_colour_as_a_cue_takes_it() -> None:
    """It is not black to the eye, so its colour goes over with its level."""
    room = stage(("dark",), [cue("1", {}), cue("2", {"dark": {"level": 1.0, "xy": (0.15, 0.06)}})])
    room.do(0.0, Recall(cue="1", fade_s=0.0)).do(10.0, Identify(fixtures=("dark",)))
    before = room.frame(15.0)
    after = room.do(15.0, Recall(cue="2", fade_s=2.0)).frame(15.0)
    assert after.white[0] == before.white[0]
    assert (after.mired[0], after.duv[0]) == pytest.approx((before.mired[0], before.duv[0]))


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


@pytest.mark.parametrize("from_cue", [None, "1"])
def test_a_take_ends_it_without_a_jump(from_cue: str | None) -> None:
    room = desk().do(10.0, Identify(fixtures=("lit",)))
    here = room.level(13.3, "lit")
    room.do(13.3, TakeStart(chain_from=from_cue))
    assert room.playback.identify == ()
    assert room.level(13.3, "lit") == here
    assert room.level(13.3 + PULSE_FADE_S, "lit") == 1.0


@pytest.mark.parametrize("briefly", [False, True])
def test_none_begins_in_a_take(briefly: bool) -> None:
    room = desk().do(10.0, TakeStart())
    with pytest.raises(Refused, match="a take is running; end it first"):
        room.do(11.0, Identify(fixtures=("lit",), briefly=briefly))
    room.do(12.0, Identify()).do(13.0, TakeEnd()).do(14.0, Identify(fixtures=("lit",), briefly=briefly))
    assert room.playback.identify == ("lit",)


def test_it_shows_at_any_master_but_not_in_a_blackout() -> None:
    room = desk().do(10.0, Master(level=0.0), Identify(fixtures=("lit",)))
    assert room.level(13.0, "lit") > 0.05
    room.do(14.0, Blackout())
    assert room.level(15.0, "lit") == 0.0


def test_a_brief_one_ends_unless_it_is_asked_for_again_and_without_a_jump() -> None:
    briefly = Identify(fixtures=("dark",), briefly=True)
    room = desk().do(10.0, briefly).do(12.0, briefly)
    end = 12.0 + PULSED_S
    assert next_event(room.playback) == end
    here = room.level(end, "dark")
    assert here > 0.05
    assert room.level(end + 0.01, "dark") == pytest.approx(here, abs=0.03)
    assert room.level(end + PULSE_FADE_S, "dark") == 0.0
    assert room.playback.identify == () and not room.moving(end + PULSE_FADE_S)


def test_a_lock_keeps_no_brief_one() -> None:
    room = desk().do(10.0, Identify(fixtures=("dark",), briefly=True), Lock(on=True))
    assert room.level(10.0 + PULSED_S + PULSE_FADE_S, "dark") == 0.0


def test_one_that_somebody_ends_goes_on_until_then_also_after_a_brief_one() -> None:
    room = desk().do(10.0, Identify(fixtures=("dark",), briefly=True)).do(11.0, Identify(fixtures=("dark",)))
    assert next_event(room.playback) is None
    assert room.moving(1000.0)
