"""Slots raised by hand, on the desk: over no lamp, under no lock, and into universes nobody patched."""

from __future__ import annotations

import json

import pytest

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import HELD_S, RAMP_S, RaiseSlots
from onecrew.commands.rig import RemoveFixture
from onecrew.commands.running import Blackout, Lock
from onecrew.commands.stills import ShowStill
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from tests.process.sandbox import SHOW

START = Show.model_validate_json(json.dumps(SHOW))
UP = RaiseSlots(universe=1, address=301, slots=(0, 255))


def desk() -> Desk:
    return Desk(START, load_profiles(), 0.0)


def test_they_are_sent_among_the_lamps_of_their_universe() -> None:
    one = desk()
    lamps = one.slots(2.0)
    assert one.raise_slots(UP, 2.0)
    row = one.universes.index(1)
    sent = one.slots(2.0 + RAMP_S)
    assert sent[row, 300:302].tolist() == [0, 255]
    sent[row, 300:302] = 0
    assert (sent == lamps).all()
    assert one.next_event(3.0) == 2.0 + HELD_S
    assert one.slots(2.0 + HELD_S)[row, 301] == 0


def test_an_unused_universe_is_sent_and_stays_so_that_its_black_arrives() -> None:
    one = desk()
    one.raise_slots(RaiseSlots(universe=9, address=1, slots=(255,)), 2.0)
    assert one.universes[-1] == 9
    assert one.slots(2.0 + RAMP_S)[-1, 0] == 255
    one.raise_slots(RaiseSlots(), 4.0)
    assert one.universes[-1] == 9
    assert not one.slots(4.0)[-1].any()


def test_a_lock_a_blackout_and_lamps_that_are_patched_refuse_them() -> None:
    one = desk()
    lamp = one.show.rig.fixtures[0]
    with pytest.raises(Refused, match=f"overlaps {lamp.id}"):
        one.raise_slots(RaiseSlots(universe=lamp.universe, address=lamp.address, slots=(255,)), 1.0)
    one.carry_out(Lock(on=True), 1.0)
    with pytest.raises(Refused, match="the desk is locked"):
        one.raise_slots(UP, 1.0)
    one.carry_out(Lock(on=False), 1.0)
    one.raise_slots(UP, 1.0)
    one.carry_out(Blackout(on=True), 1.0 + RAMP_S)
    assert one.slots(1.0 + RAMP_S)[one.universes.index(1), 301] == 0
    with pytest.raises(Refused, match="the blackout is on"):
        one.raise_slots(UP, 3.0)


def test_while_every_lamp_is_out_one_may_have_its_own_raised() -> None:
    one = desk()
    lamp, other = one.show.rig.fixtures
    own = RaiseSlots(universe=1, address=lamp.address, slots=(255, 255), fixture=lamp.id)
    for light in (None, ShowStill(fixture=lamp.id)):
        if light is not None:
            one.carry_out(light, 1.0)
        with pytest.raises(Refused, match="other lamps are lit"):
            one.raise_slots(own, 1.0)
    one.carry_out(ShowStill(), 1.0)
    one.raise_slots(own, 1.0)
    row = one.universes.index(1)
    assert one.slots(1.0 + RAMP_S)[row, lamp.address - 1 : lamp.address + 1].tolist() == [255, 255]
    over_the_other = own.model_copy(update={"address": other.address})
    past_its_end = own.model_copy(update={"slots": (255,) * 7})
    for wrong in (over_the_other, past_its_end, own.model_copy(update={"fixture": None})):
        with pytest.raises(Refused, match="overlaps"):
            one.raise_slots(wrong, 2.0)
    assert one.slots(1.0 + HELD_S)[row, lamp.address - 1] == 0


def test_the_end_of_the_engine_lowers_them() -> None:
    one = desk()
    one.raise_slots(UP, 1.0)
    one.fade_away(1.0 + RAMP_S, 1.0)
    assert one.slots(1.0 + RAMP_S)[one.universes.index(1), 301] == 0


def test_a_countdown_to_black_lowers_them_too() -> None:
    one = desk()
    one.carry_out(Countdown(seconds=1.0, command=Blackout(on=True)), 1.0)
    one.raise_slots(UP, 1.9)
    one.advance(2.0)
    assert one.slots(2.0 + RAMP_S)[one.universes.index(1), 301] == 0


def test_they_go_on_where_their_universe_loses_its_last_lamp() -> None:
    one = desk()
    one.raise_slots(UP, 1.0)
    for fixture in one.show.rig.fixtures:
        one.carry_out(RemoveFixture(id=fixture.id), 2.0)
    assert one.slots(1.0 + RAMP_S)[one.universes.index(1), 301] == 255
