"""Light: what the look sheet says."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.plan import saying
from onecrew.plan.now import forecast_now
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Scene, Show
from onecrew.tui.light import ratio
from onecrew.tui.light.lamp_table import bar
from onecrew.tui.light.screen import Light
from onecrew.tui.readings import Question, Readings
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

SIZES = [(60, 16), (80, 24), (100, 30), (140, 45), (220, 70)]


@pytest.mark.parametrize("size", SIZES)
@drive
async def test_every_lamp_with_level_stops_and_white(size: tuple[int, int]) -> None:
    async with desk(mode="light", size=size) as d:
        text = d.text()
        for said in ("hood", "22 %", "−2.2 st", "3400 K", "3.5 %", "−4.8 st", "2500 K", "6500 K"):
            assert said in text, f"{said} at {size}"
        if size[0] >= 80:
            for said in ("ambience", "off", "4000 K"):
                assert said in text, f"{said} at {size}"


@drive
async def test_clamps_are_told_in_a_sentence() -> None:
    async with desk(mode="light") as d:
        await d.press("down", "down", "down")
        assert "! 6500 K is above the 5600 K this lamp reaches" in d.text()


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"solo": ("hood",)}, "SOLO: hood"),
        ({"without": ("fridge",)}, "WITHOUT: fridge"),
        ({"locked": True}, "LOCKED"),
        ({"blackout": True}, "BLACKOUT"),
        ({"comparing": True}, "comparing: the stored look is on"),
    ],
)
@drive
async def test_states_have_words(state: dict[str, Any], said: str) -> None:
    async with desk(mode="light") as d:
        await d.change(**state)
        await d.until(lambda: said in d.text())


@drive
async def test_edits_are_marked_and_named() -> None:
    lights = dict(bakery.snapshot().lights)
    lights["hood"] = lights["hood"].model_copy(update={"edited": True})
    async with desk(mode="light") as d:
        await d.change(lights=lights)
        text = d.text()
        assert "edited, not stored: hood" in text
        assert "* edited" in text


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_a_note_or_a_scene_that_is_longer_than_its_line_ends_in_an_ellipsis(
    size: tuple[int, int],
) -> None:
    note = "Behind the glass door of the fridge, a little green, and never more than seven per cent of it"
    show = bakery.show()
    hood, *others = show.rig.fixtures
    fixtures = (hood.model_copy(update={"note": note}), *others)
    rig = show.rig.model_copy(update={"fixtures": fixtures})
    show = show.model_copy(update={"rig": rig, "scene": "The second morning, hours before anybody is there"})
    show = show.model_copy(update={"other_scenes": (Scene(name="Delivery"),)})
    client = FakeClient(show, bakery.snapshot(), dict(ANSWERS))
    async with desk(client, mode="light", size=size) as d:
        left = [row[: 64 if size[0] > 80 else 80].rstrip() for row in d.text().splitlines()]
        assert any(row.startswith(" hood key · Behind the glass door") and row[-1] == "…" for row in left)
        assert any(row.startswith(" CUES OF The second morning") and row[-1] == "…" for row in left)


@drive
async def test_an_empty_rig_says_what_to_do() -> None:
    empty = FakeClient(Show(name="New"), bakery.snapshot(lights={}))
    async with desk(empty, mode="light") as d:
        assert "No lamps yet: F4 opens Rig" in d.text()
        await d.press("right", "s", "A", "S", "escape", "5", "enter")
        assert d.sent == []


@drive
async def test_many_lamps_scroll_with_the_cursor() -> None:
    show = bakery.show()
    first = show.rig.fixtures[0]
    lamps = tuple(first.model_copy(update={"id": f"lamp{i}", "address": 1 + 6 * i}) for i in range(40))
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": lamps})})
    light = bakery.snapshot().lights["hood"]
    fake = FakeClient(show, bakery.snapshot(lights={lamp.id: light for lamp in lamps}))
    async with desk(fake, mode="light") as d:
        assert "more lamps" in d.text()
        await d.press("up")
        assert "▸ ○ lamp39" in d.text()
        await d.press("down")
        assert "▸ ○ lamp0" in d.text()


def test_key_to_fill_is_in_stops_by_role() -> None:
    """Key 40 % behind a filter of one stop is 20 %; fill 5 %: two stops, 4 : 1.

    Key ÷ fill in stops is its base-2 logarithm: 2 stops are 4 : 1 (common definition, key light alone).
    """
    lights = dict(bakery.snapshot().lights)
    lights["hood"] = lights["hood"].model_copy(update={"output": 0.4})
    lights["fridge"] = lights["fridge"].model_copy(update={"output": 0.05})
    snapshot = bakery.snapshot(lights=lights)
    show = bakery.show()
    filling = tuple(
        lamp.model_copy(update={"role": "fill"}) if lamp.id == "fridge" else lamp
        for lamp in show.rig.fixtures
    )
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": filling})})
    assert ratio.key_to_fill_stops(show, snapshot) == pytest.approx(2.0)
    assert ratio.said(show, snapshot, Readings(lambda: None)) == "key : fill 2.0 st (4.0 : 1)"


@pytest.mark.parametrize(
    ("key", "fill", "said"),
    [
        (0.25, 0.2499, "0.0 st (1.0 : 1)"),
        (0.2499, 0.25, "0.0 st (1.0 : 1)"),
        (0.125, 0.25, "−1.0 st (1 : 2.0)"),
    ],
)
def test_a_ratio_of_hardly_anything_has_no_sign(key: float, fill: float, said: str) -> None:
    fixtures = [one.model_copy(update={"modifiers": ()}) for one in bakery.show().rig.fixtures]
    roles = {"hood": "key", "sky": "fill"}
    fixtures = [one.model_copy(update={"role": roles.get(one.id, "effect")}) for one in fixtures]
    show = bakery.show()
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": tuple(fixtures)})})
    lights = dict(bakery.snapshot().lights)
    for name, output in (("hood", key), ("sky", fill)):
        lights[name] = lights[name].model_copy(update={"output": output})
    snapshot = bakery.snapshot(lights=lights)
    assert ratio.said(show, snapshot, Readings(lambda: None)) == f"key : fill {said}"


@drive
async def test_the_ratio_and_the_shares_are_those_at_the_subject() -> None:
    """The figures are the forecast's own; the screen only shows them, and works them out but once."""
    show, snapshot = bakery.show(), bakery.snapshot()
    [found] = forecast_now(show, load_profiles(), snapshot.lights)
    async with desk(mode="light", size=(140, 45)) as d:
        screen = d.app.base_screen
        assert isinstance(screen, Light)
        await d.until(lambda: bool(screen.readings.now))
        await d.settle()
        if found.ratio is not None:
            assert f"at counter key : fill {saying.ratio(found.ratio)}" in d.text()
        for lamp in found.lamps:
            if lamp.output > 0.0:
                [row] = [row for row in d.picture() if f"○ {lamp.id} " in row]
                assert f" {100 * lamp.share:.0f} % " in row
        assert f"at counter: {found.lamps[0].lamp_lux:.3g} lx facing it" in d.page()
        before = screen.readings.now
        await d.tell(bakery.snapshot())  # another state, the same light
        now = screen.desk.snapshot
        assert screen.desk.show is not None and now is not None and now is not snapshot
        assert not screen.readings.ask_when_still(Question(screen.desk.show, now, {}))
        lights = {**snapshot.lights, "hood": snapshot.lights["hood"].model_copy(update={"output": 0.01})}
        await d.tell(bakery.snapshot(lights=lights))
        if found.ratio is not None:
            assert f"{saying.ratio(found.ratio)}…" in d.text()  # of the light before
        await d.until(lambda: screen.readings.now is not before)


@pytest.mark.parametrize(
    ("output", "halves"), [(1.0, 32), (0.5, 28), (2**-4, 16), (2**-8, 1), (0.0, 0), (1e-6, 1)]
)
def test_the_bar_loses_an_eighth_a_stop(output: float, halves: int) -> None:
    drawn = bar(output, 16)
    assert drawn.count("━") * 2 + drawn.count("╸") == halves


@pytest.mark.parametrize("size", SIZES)
@drive
async def test_what_a_match_predicted_stands_with_its_cue(size: tuple[int, int]) -> None:
    document = bakery.show().model_dump(mode="json")
    document["cues"][1]["predicted"] = {
        "id": "0123456789abcdef",
        "reference": "ref.jpg",
        "delta_e": 0.42,
        "regions": [{"name": "face", "stops": -0.31, "delta_e": 2.0}],
    }
    fake = FakeClient(Show.model_validate(document), bakery.snapshot(cue="2"))
    async with desk(fake, mode="light", size=size) as d:
        lights = {n: x.model_copy(update={"edited": False}) for n, x in bakery.snapshot().lights.items()}
        await d.change(lights=lights)
        assert "Matched to ref.jpg: predicted within 0.3 stop (face)" in d.text()
        await d.change(lights={n: x.model_copy(update={"edited": True}) for n, x in lights.items()})
        assert "Matched to ref.jpg: changed since" in d.text()
        await d.change(cue="3")
        assert "Matched" not in d.text()
