"""Questions to the engine: answered in full, or refused with a sentence."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from onecrew.colour.spaces import xy_to_uv76
from onecrew.commands.light import SetLight
from onecrew.engine import queries
from onecrew.engine.desk import Desk
from onecrew.engine.queries import QUERIES
from onecrew.errors import Mistake
from onecrew.fixtures.describe import of_kind
from onecrew.show.light import Light, White
from onecrew.show.load import load_show
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Rig, Show
from tests.fakes.profiles import all_profiles

BAKERY = Path(__file__).parents[1] / "fakes" / "kitchen.json"


def answer(topic: str, arguments: dict[str, Any], desk: Desk) -> Any:
    """What is answered at once, or a coroutine."""
    return queries.answer(topic, arguments, desk)


@pytest.fixture(scope="module")
def desk() -> Desk:
    profiles = load_profiles()
    return Desk(load_show(BAKERY, profiles), profiles, 0.0)


def test_every_profile_that_ships_is_offered_with_its_modes(desk: Desk) -> None:
    offered = answer("profiles", {}, desk)["profiles"]
    assert {profile["id"] for profile in offered} == set(desk.profiles)
    panel = next(profile for profile in offered if profile["id"] == "panel-cct-tint")
    mode = next(mode for mode in panel["modes"] if mode["name"] == "16-bit")
    assert mode["width"] == 6
    assert mode["channels"][0] == "dimmer 16-bit"


def test_the_show_is_answered_as_it_is(desk: Desk) -> None:
    assert Show.model_validate(answer("show", {}, desk)["show"]) == desk.show


def test_the_next_free_address_leaves_the_patch_alone(desk: Desk) -> None:
    taken = {
        fixture.address + offset
        for fixture in desk.show.rig.fixtures
        if fixture.universe == 1
        for offset in range(desk.profiles[fixture.profile].mode(fixture.mode).width)  # type: ignore[union-attr]
    }
    address = answer("next-free", {"universe": 1, "width": 10}, desk)["address"]
    assert not taken & set(range(address, address + 10))
    assert answer("next-free", {"universe": 63999, "width": 512}, desk)["address"] == 1


def test_a_gamut_is_a_polygon_a_path_or_a_point(desk: Desk) -> None:
    assert len(answer("gamut", {"fixture": "van"}, desk)["uv"]) >= 3
    panel = answer("gamut", {"fixture": "window"}, desk)
    assert panel["white"] is not None
    assert len(panel["uv"]) > 10


def test_the_lines_run_through_published_points(desk: Desk) -> None:
    lines = answer("locus", {}, desk)
    # Planckian 1000 K, CIE 15 with c2 = 1.4388e-2: u' 0.448011, v' 0.531937 (computed with colour-science).
    first = lines["planck"][0]
    assert first == pytest.approx([1000.0, 0.448011, 0.531937], abs=2e-6)
    assert len(lines["spectrum"]) == 65
    assert lines["spectrum"][0][0] == 380.0
    assert lines["spectrum"][-1][0] == 700.0


def test_what_is_asked_of_every_lamp_is_told_as_a_cue_would_have_it() -> None:
    profiles = load_profiles()
    desk = Desk(load_show(BAKERY, profiles), profiles, 0.0)
    lights = answer("asked", {}, desk)["lights"]
    assert set(lights) == {fixture.id for fixture in desk.show.rig.fixtures}
    assert lights["window"] == {"level": 0.0}
    wanted = SetLight(fixtures=("window",), level=0.3, cct_k=2000, duv=0.04)
    desk.carry_out(wanted, 1.0)
    # 2000 K is out of the panel's reach: here it is what was asked that counts.
    assert answer("asked", {}, desk)["lights"]["window"] == {
        "level": 0.3,
        "white": {"cct_k": 2000.0, "duv": 0.04},
    }


def test_a_rendition_is_worked_out_later(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[Fixture, Profile, Light]] = []

    async def note(*question: Any) -> dict[str, Any]:
        asked.append(question)
        return {"mixes": [], "note": ""}

    monkeypatch.setattr(queries, "rendition", note)
    for arguments in ({"cct_k": 3200, "duv": 0.002}, {"xy": [0.5, 0.4]}, {}):
        coming = answer("rendition", {"fixture": "van", **arguments}, desk)
        assert asyncio.run(coming) == {"mixes": [], "note": ""}
    fixtures, profiles, lights = zip(*asked, strict=True)
    assert {fixture.id for fixture in fixtures} == {"van"}
    assert profiles[0] == desk.profiles[fixtures[0].profile]
    assert lights == (
        Light(level=1.0, white=White(cct_k=3200, duv=0.002)),
        Light(level=1.0, xy=(0.5, 0.4)),
        Light(level=1.0),
    )


def test_a_gamut_of_filters_is_what_they_reach() -> None:
    """Those of ``cmy`` each take one primary of BT.709: two of them leave red, green or blue."""
    fixture = of_kind(all_profiles()["cmy"], "8-bit").model_copy(update={"id": "flags"})
    show = Show(name="one lamp", rig=Rig(fixtures=(fixture,)))
    corners = np.array(answer("gamut", {"fixture": "flags"}, Desk(show, all_profiles(), 0.0))["uv"])
    for xy in ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)):
        assert np.hypot(*(corners - xy_to_uv76(np.array(xy))).T).min() < 1e-3


def test_a_gamut_of_a_channel_that_begins_cool_is_told_from_warm_to_cool() -> None:
    fixture = of_kind(all_profiles()["cool-first"], "range").model_copy(update={"id": "back"})
    show = Show(name="one lamp", rig=Rig(fixtures=(fixture,)))
    assert answer("gamut", {"fixture": "back"}, Desk(show, all_profiles(), 0.0))["white"] == [2700.0, 6500.0]


@pytest.mark.parametrize(
    ("topic", "arguments"),
    [
        ("gossip", {}),
        ("gamut", {"fixture": "nobody"}),
        ("gamut", {}),
        ("next-free", {"universe": 0, "width": 1}),
        ("next-free", {"universe": 1, "width": 0}),
        ("next-free", {"universe": 1, "width": 513}),
        ("next-free", {"universe": 1, "width": 1 << 70}),
        ("rendition", {"fixture": "nobody"}),
        ("rendition", {"fixture": "van", "cct_k": 3200, "xy": [0.4, 0.4]}),
        ("rendition", {"fixture": "van", "cct_k": 10}),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_with_a_sentence(
    desk: Desk, topic: str, arguments: dict[str, object]
) -> None:
    with pytest.raises(Mistake) as refusal:
        answer(topic, dict(arguments), desk)
    assert len(str(refusal.value)) > 20


def test_each_query_says_what_it_answers() -> None:
    assert all(query.__doc__ for query in QUERIES.values())
