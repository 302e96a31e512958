"""Calibrating as clients ask for it: from white to white, through the closing check, to the readings."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from onecrew.engine.calibrating import calibration
from onecrew.engine.desk import Desk
from onecrew.errors import Mistake, Misuse
from onecrew.show.show import Fixture, Rig, Show
from tests.fakes import bakery
from tests.fakes.profiles import all_profiles


def test_the_engine_walks_to_a_fixture_with_its_readings() -> None:
    hood = bakery.show().rig.fixtures[0]
    desk = Desk(Show(name="one lamp", rig=Rig(fixtures=(hood,))), all_profiles(), 0.0)

    def ask(typed: list[str], check: list[str]) -> dict[str, Any]:
        asked = {"fixture": hood.id, "typed": typed, "check": check}
        return asyncio.run(calibration(desk, asked))  # type: ignore[arg-type]

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
        calibration(desk, {"fixture": "oven"})
