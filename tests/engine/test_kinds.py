"""What a running engine knows of kinds of fixture: files that are new or changed, but for those in use."""

from __future__ import annotations

from onecrew.engine.desk import Desk
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture, Rig, Show
from tests.fakes.profiles import all_profiles


def renamed(profile: Profile) -> Profile:
    return profile.model_copy(update={"name": "Changed"})


def test_a_changed_kind_is_known_unless_a_lamp_has_it() -> None:
    known = all_profiles()
    lamp = Fixture(id="door", profile="spot-daylight", mode="8-bit", universe=1, address=1, role="key")
    desk = Desk(Show(name="One", rig=Rig(fixtures=(lamp,))), known, 0.0)
    changed = {name: renamed(known[name]) for name in ("spot-daylight", "panel-cct-tint")}
    desk.learn_kinds({**changed, "new": renamed(known["par-rgb"])})
    assert desk.profiles["spot-daylight"] == known["spot-daylight"]
    assert desk.profiles["panel-cct-tint"].name == desk.profiles["new"].name == "Changed"
    assert set(known) < set(desk.profiles)
