"""Calibrating as clients ask for it: from white to white, through the closing check, to the readings."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from onecrew.engine.calibrating import calibration, tint
from onecrew.engine.desk import Desk
from onecrew.errors import Mistake, Misuse
from onecrew.fixtures.emitter_plan import apart
from onecrew.show.show import Fixture, Reading, Rig, Show
from tests.fakes import bakery
from tests.fakes.profiles import all_profiles, rig


def test_the_engine_walks_to_a_fixture_with_its_readings() -> None:
    hood = bakery.show().rig.fixtures[0]
    desk = Desk(Show(name="one lamp", rig=Rig(fixtures=(hood,))), all_profiles(), 0.0)

    def ask(typed: list[str], check: list[str]) -> dict[str, Any]:
        asked = {"fixture": hood.id, "typed": typed, "check": check}
        return asyncio.run(calibration(desk, asked))

    typed: list[str] = []
    while (now := ask(typed, [])).get("light"):
        assert len(typed) == now["at"] < now["of"]
        typed.append(f"{now['light']['cct_k'] * 0.98:.0f} {now['light']['duv'] + 0.001:.4f} 800")
    check: list[str] = []
    while "slots" in now:
        k = float(now["name"].split(" K")[0])
        assert now["checks"] and len(now["slots"]) == 6, "a 16-bit panel with CCT and tint has six"
        check.append(f"{k if 'corrected' in now['name'] else k * 0.98:.0f} 0.0 800")
        now = ask(typed, check)
    fixture = Fixture.model_validate(now["fixture"])
    assert len(fixture.calibration) == now["readings"] == len(typed)
    assert fixture.model_copy(update={"calibration": ()}) == hood
    assert not now["worse"] and any("closing check" in line for line in now["said"])
    with pytest.raises(Misuse, match="banana"):
        ask(["banana"], [])
    assert ask(["done"], [])["fixture"] is None, "nothing was read"
    with pytest.raises(Mistake, match="no lamp oven"):
        asyncio.run(calibration(desk, {"fixture": "oven"}))


def test_the_engine_walks_from_emitter_to_emitter_to_a_fixture_with_their_readings() -> None:
    profiles = all_profiles()
    [bar] = rig(("bar-rgba", "8-bit"))
    bar = bar.model_copy(
        update={"calibration": (Reading(asked_cct_k=3200, measured_cct_k=3300, measured_duv=0.0, light=1.0),)}
    )
    desk = Desk(Show(name="one lamp", rig=Rig(fixtures=(bar,))), profiles, 0.0)
    names = list(profiles["bar-rgba"].emitters)

    def ask(typed: list[str], check: list[str]) -> dict[str, Any]:
        asked = {"fixture": bar.id, "typed": typed, "check": check, "emitters": True}
        return asyncio.run(calibration(desk, asked))

    typed: list[str] = []
    while not (now := ask(typed, [])).get("checks") and "slots" in now:
        emitter, at, percent = now["name"].split()[:3]
        assert (at, sum(value > 0 for value in now["slots"])) == ("at", 1), "one emitter alone"
        assert (max(now["slots"]) == 255) == (percent == "100")
        x, y = profiles["bar-rgba"].emitters[emitter].xy
        typed.append(f"{x - 0.004:.4f} {y:.4f} {float(percent):.1f}lx")
    assert len(typed) == 2 * len(names)
    check: list[str] = []
    while "slots" in now:
        assert now["checks"]
        check.append(f"{now['name'].split(' K')[0]} 0.0 {800 if 'corrected' in now['name'] else 700}")
        now = ask(typed, check)
    fixture = Fixture.model_validate(now["fixture"])
    assert now["readings"] == len(typed) == len(fixture.emitter_readings)
    assert fixture == bar.model_copy(update={"emitter_readings": fixture.emitter_readings, "calibration": ()})
    off = apart(fixture.emitter_readings[0].xy, profiles["bar-rgba"].emitters[names[0]].xy)
    assert any(f"{names[0]} {off:.4f}, " in line for line in now["said"])
    assert any("1 reading of whites" in line for line in now["said"]), "what is dropped is said"
    assert any("closing check" in line for line in now["said"])
    with pytest.raises(Misuse, match="banana"):
        ask(["banana"], [])
    assert ask(["done"], [])["fixture"] is None, "nothing was read"
    darker_alone = ["skip", typed[1], "done"]
    assert ask(darker_alone, [])["fixture"] is None, "no emitter was read at full"


def test_a_lamp_that_mixes_its_light_itself_has_no_emitters_to_read() -> None:
    hood = bakery.show().rig.fixtures[0]
    desk = Desk(Show(name="one lamp", rig=Rig(fixtures=(hood,))), all_profiles(), 0.0)
    with pytest.raises(Mistake, match="calibrate its whites"):
        asyncio.run(calibration(desk, {"fixture": hood.id, "emitters": True}))


def test_a_lamp_without_a_tint_is_no_lamp_for_a_camera() -> None:
    bench = Fixture(id="bench", profile="panel-bicolour", mode="8-bit", universe=1, address=100, role="key")
    hood = bakery.show().rig.fixtures[0]
    desk = Desk(Show(name="two lamps", rig=Rig(fixtures=(hood, bench))), all_profiles(), 0.0)
    assert asyncio.run(tint(desk, {"fixture": hood.id})) == {}
    with pytest.raises(Mistake, match="bench has no tint of its own"):
        asyncio.run(tint(desk, {"fixture": "bench"}))
