"""Colours by name against figures from elsewhere."""

from __future__ import annotations

import colour
import pytest

from onecrew.colour.daylight import daylight_xy
from onecrew.colour.locus import uv60_to_white
from onecrew.colour.spaces import uv76_to_uv60, xy_to_uv76
from onecrew.language.colours import NAMES, named


@pytest.mark.parametrize(
    ("name", "mired"),
    [
        # A public data file of a maker's own product pages: stated shifts of the colour correction filters.
        ("full cto", 159), ("half cto", 109), ("quarter cto", 64),
        ("full ctb", -137), ("half ctb", -78), ("quarter ctb", -35),
        # From memory.
        ("eighth cto", 26), ("eighth ctb", -18),
    ],
)  # fmt: skip
def test_a_correction_is_the_shift_that_the_trade_states(name: str, mired: float) -> None:
    assert NAMES[name].changes == {"mired_by": pytest.approx(mired, abs=2)}


@pytest.mark.parametrize(("cc", "duv"), [(30, 0.0324), (7.5, 0.0079)])
def test_green_and_magenta_are_as_wide_as_the_absorption_of_their_cc_figure(cc: float, duv: float) -> None:
    # Own arithmetic on Kodak's published CC magenta transmittances over Planck's 5500 K: CC 30 is
    # Duv -0.0324, CC 10 is -0.0105.
    name = {30: "full", 7.5: "quarter"}[cc]
    assert NAMES[f"{name} plus green"].changes["duv_by"] == pytest.approx(duv, rel=0.08)
    assert NAMES[f"{name} minus green"].changes["duv_by"] == -NAMES[f"{name} plus green"].changes["duv_by"]


def test_daylight_lies_on_the_daylight_locus() -> None:
    # CIE 15, the D series.
    cct_k, duv = uv60_to_white(uv76_to_uv60(xy_to_uv76(daylight_xy(5600.0))))
    assert NAMES["daylight"].changes == {
        "cct_k": pytest.approx(cct_k, abs=5),
        "duv": pytest.approx(duv, abs=2e-4),
    }


@pytest.mark.parametrize(("name", "illuminant"), [("overcast", "D65"), ("shade", "D75")])
def test_overcast_and_shade_are_cie_illuminants(name: str, illuminant: str) -> None:
    xy = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][illuminant]  # colour-science
    cct_k, duv = uv60_to_white(uv76_to_uv60(xy_to_uv76(xy)))
    assert NAMES[name].changes == {"cct_k": pytest.approx(cct_k, abs=10), "duv": pytest.approx(duv, abs=3e-4)}


def test_every_name_is_found_whatever_its_letters_and_has_a_source() -> None:
    for name, one in NAMES.items():
        assert named(name.upper().split()) == ([one.changes], [])
        assert one.source
    assert named(["key"]) == ([], ["key"])
    assert named(["plus", "green"]) == ([NAMES["full plus green"].changes], [])
