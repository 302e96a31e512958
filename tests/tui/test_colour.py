"""Colour: the u′v′ diagram in characters."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.commands.light import SetLight
from onecrew.commands.running import Blackout
from onecrew.commands.session import Redo, Undo
from onecrew.errors import Trouble
from onecrew.show.show import Show
from onecrew.tui.drawing.diagram import View, uv_of
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive


def client(**state: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**state), dict(ANSWERS))


@pytest.mark.parametrize(
    ("xy", "uv"),
    [
        ((0.31272, 0.32903), (0.19783, 0.46834)),  # D65, CIE 15:2004 table of illuminants (u′10 not meant)
        ((0.44758, 0.40745), (0.25597, 0.52429)),  # illuminant A
        ((1 / 3, 1 / 3), (4 / 19, 9 / 19)),  # equal energy, exact
    ],
)
def test_uv_by_the_cie_formula(xy: tuple[float, float], uv: tuple[float, float]) -> None:
    """D65 and A in u′v′ as in CIE 15:2004, to the digits printed there; E follows from the formula itself."""
    assert uv_of(xy) == pytest.approx(uv, abs=2e-5)


def test_a_unit_is_square_on_the_screen() -> None:
    """A character cell is about twice as high as it is wide."""
    view = View((0.2, 0.5), 0.2, 60, 20)
    x0, y0 = view.at((0.2, 0.5))
    x1, _ = view.at((0.25, 0.5))
    _, y1 = view.at((0.2, 0.55))
    assert (x0, y0) == (30, 10)
    assert x1 - x0 == pytest.approx(2 * (y0 - y1))


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (140, 45)])
@drive
async def test_every_lamp_and_the_locus(size: tuple[int, int]) -> None:
    async with desk(client(), mode="colour", size=size) as d:
        text = d.text()
        for name in ("hood", "lamp", "sky", "street", "K"):
            assert name in text, f"{name} at {size}"
        assert any(0x2800 < ord(sign) <= 0x28FF for sign in text), "the locus is drawn"
        if size[0] >= 80:
            for said in ("u′v′ 0.2385 0.5131", "whites 2700–6500 K", "D50"):
                assert said in text, f"{said} at {size}"


@drive
async def test_the_whole_diagram_has_wavelengths() -> None:
    async with desk(client(), mode="colour") as d:
        await d.press("z")
        text = d.text()
        for nm in ("480", "520", "560", "620"):
            assert nm in text
        await d.press("z")
        assert "480" not in d.text()


@drive
async def test_where_a_lamp_goes_is_marked() -> None:
    lights = dict(bakery.snapshot().lights)
    lights["hood"] = lights["hood"].model_copy(update={"goal_xy": (0.45, 0.41)})
    async with desk(client(lights=lights), mode="colour") as d:
        body = [row[:50] for row in d.picture()]
        assert any("○" in row for row in body)


@drive
async def test_a_gamut_is_asked_once_for_a_lamp_and_a_version_of_the_show() -> None:
    async with desk(client(), mode="colour") as d:
        await d.change(master=0.9)
        await d.change(master=0.8)
        asked = [arguments for topic, arguments in d.client.asked if topic == "gamut"]
        assert asked == [{"fixture": "hood"}]
        await d.press("down")
        await d.change(revision=4)
        asked = [arguments["fixture"] for topic, arguments in d.client.asked if topic == "gamut"]
        assert asked == ["hood", "lamp", "lamp"]


@pytest.mark.parametrize(
    ("key", "fields"),
    [("w", {"mired_by": 10}), ("c", {"mired_by": -10}), ("M", {"duv_by": 0.001}), ("m", {"duv_by": -0.001})],
)
@drive
async def test_nudges(key: str, fields: dict[str, float]) -> None:
    async with desk(client(), mode="colour") as d:
        await d.press("down", key)
        assert d.sent == [SetLight(fixtures=("lamp",), **fields)]


@drive
async def test_other_keys() -> None:
    async with desk(client(), mode="colour") as d:
        await d.press("u", "U", "b", "full_stop", "up")
        assert d.sent == [Undo(), Redo(), Blackout(), Blackout()]


@drive
async def test_an_engine_without_an_answer_leaves_the_lamps() -> None:
    fake = client()
    fake.answers["locus"] = Trouble("away")
    fake.answers["gamut"] = Trouble("away")
    async with desk(fake, mode="colour") as d:
        assert "hood" in d.text() and "Waiting for the engine" in d.text()


@drive
async def test_no_lamps_no_nudge() -> None:
    async with desk(
        FakeClient(Show(name="New"), bakery.snapshot(lights={}), dict(ANSWERS)), mode="colour"
    ) as d:
        await d.press("down", "w")
        assert d.sent == [] and "No lamps yet" in d.text()
