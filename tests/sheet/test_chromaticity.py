"""The chromaticity diagram: points where colour-science puts them."""

from __future__ import annotations

from xml.etree import ElementTree

import colour
import numpy as np
import pytest

from onecrew.log.recorded_state import RecordedState
from onecrew.sheet.chromaticity import DOT_MM, close, legend, whole
from onecrew.sheet.facts import facts_of
from tests.sheet.sheets import ovens_on

SVG = "{http://www.w3.org/2000/svg}"


def axes(svg: ElementTree.Element) -> tuple[tuple[float, float], tuple[float, float]]:
    """(u′ at x = 0, units of u′ a mm) and the same for v′, from the lines and numbers of the axes."""
    us, vs = [], []
    for text in svg.iter(f"{SVG}text"):
        try:
            value = float(text.text or "")
        except ValueError:
            continue
        if text.get("text-anchor") == "middle" and value < 1:
            us.append((float(text.get("x", "")), value))
        elif text.get("text-anchor") == "end" and float(text.get("x", "")) == -1.0:
            vs.append((float(text.get("y", "")) - 0.9, value))
    return (
        np.polyfit([at for at, _ in us], [value for _, value in us], 1)[::-1].tolist(),
        np.polyfit([at for at, _ in vs], [value for _, value in vs], 1)[::-1].tolist(),
    )


def dots(svg: ElementTree.Element) -> list[tuple[float, float]]:
    (u0, du), (v0, dv) = axes(svg)
    found = [c for c in svg.iter(f"{SVG}circle") if c.get("r") == f"{DOT_MM:g}"]
    return [(u0 + du * float(c.get("cx", "")), v0 + dv * float(c.get("cy", ""))) for c in found]


@pytest.mark.parametrize("draw", [whole, close])
def test_lamps_are_where_they_belong(draw: object) -> None:
    recorded = ovens_on()
    svg = ElementTree.fromstring(draw(recorded, facts_of(recorded)))  # type: ignore[operator]
    lit = [lamp for lamp in recorded.lamps if lamp.sent.level > 0]
    for lamp, (u, v) in zip(lit, dots(svg), strict=True):
        # CIE 1976 u′v′ by colour-science.
        expected = colour.xy_to_Luv_uv(np.array(lamp.sent.xy))
        assert (u, v) == (pytest.approx(expected[0], abs=3e-4), pytest.approx(expected[1], abs=3e-4))


def test_the_locus_runs_where_planck_says() -> None:
    recorded = ovens_on()
    svg = ElementTree.fromstring(whole(recorded, facts_of(recorded)))
    (u0, du), (v0, dv) = axes(svg)
    [line] = [p for p in svg.iter(f"{SVG}polyline") if len(p.get("points", "").split()) == 60]
    points = [tuple(map(float, pair.split(","))) for pair in line.get("points", "").split()]
    for kelvin, index in ((1000.0, 0), (25000.0, -1)):
        # Ohno (2013) by colour-science, CIE 1960 → 1976: v′ = 1.5 v.
        u, v = colour.temperature.CCT_to_uv_Ohno2013(np.array([kelvin, 0.0]))
        assert u0 + du * points[index][0] == pytest.approx(u, abs=5e-4)
        assert v0 + dv * points[index][1] == pytest.approx(1.5 * v, abs=5e-4)


def test_gamuts_are_named_once_for_kinds_that_give_the_same() -> None:
    names = [name for _, name in legend(ovens_on())]
    assert "RGBWW panel, RGBWW bulb, RGBWW tube, 8 segments" in names
    assert len({dash for dash, _ in legend(ovens_on())}) == len(names)


def test_a_colour_that_was_missed_is_drawn_as_a_ring() -> None:
    recorded = ovens_on()
    lamps = [lamp.model_dump(mode="json") for lamp in recorded.lamps]
    lamps[0]["light"]["white"]["cct_k"] = 2000.0
    lamps[0]["sent"]["off_by"] = 0.05
    missed = RecordedState.model_validate({**recorded.model_dump(mode="json"), "lamps": lamps})

    def rings(one: RecordedState) -> int:
        svg = ElementTree.fromstring(close(one, facts_of(one)))
        return len([c for c in svg.iter(f"{SVG}circle") if c.get("fill") == "none"])

    assert (rings(recorded), rings(missed)) == (0, 1)


def test_with_every_lamp_dark_the_white_balance_is_left() -> None:
    recorded = ovens_on().model_copy(update={"lamps": ()})
    ElementTree.fromstring(close(recorded, facts_of(recorded)))
    ElementTree.fromstring(whole(recorded, facts_of(recorded)))
