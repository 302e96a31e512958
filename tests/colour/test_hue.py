"""Saturated colours by hue and saturation around a white."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.hue import all_colours, hue_to_uv76, hue_to_xy
from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.colour.spaces import xy_to_uv76
from tests.colour.hues import uv76_to_hue

WHITE = white_to_uv76_fast(1e6 / 4300.0, 0.0)
LAWS = settings(max_examples=80, deadline=None)


@LAWS
@given(hue=st.floats(0.0, 359.99), saturation=st.floats(0.01, 1.0))
def test_there_and_back(hue: float, saturation: float) -> None:
    back, back_saturation = uv76_to_hue(hue_to_uv76(hue, saturation, WHITE), WHITE)
    assert abs((float(back) - hue + 180.0) % 360.0 - 180.0) < 1e-6
    assert float(back_saturation) == pytest.approx(saturation, abs=1e-9)


@LAWS
@given(hue=st.floats(0.0, 360.0), saturation=st.floats(0.0, 1.0))
def test_every_hue_and_saturation_is_a_real_colour(hue: float, saturation: float) -> None:
    colour = hue_to_uv76(hue, saturation, WHITE)
    _, outside = all_colours().nearest(colour[None, :])
    assert outside[0] < 1e-9


def test_saturation_ends_at_the_spectrum() -> None:
    full = hue_to_uv76(np.arange(0.0, 360.0, 5.0), 1.0, WHITE)
    inside = hue_to_uv76(np.arange(0.0, 360.0, 5.0), 0.999, WHITE)
    _, past = all_colours().nearest(WHITE + 1.001 * (full - WHITE))
    assert (past > 0.0).all()
    _, short = all_colours().nearest(inside)
    assert (short == 0.0).all()


def test_hue_against_colour_science(colour_science: ModuleType) -> None:
    # The CIE 1976 uv hue angle of a colour is the hue of L*C*h(uv) around the same white.
    xy = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06], [0.45, 0.47]])
    xyz = colour_science.xy_to_XYZ(xy)
    white = colour_science.Luv_uv_to_xy(WHITE)
    lch = colour_science.models.Luv_to_LCHuv(colour_science.XYZ_to_Luv(xyz, white))
    hue, saturation = uv76_to_hue(xy_to_uv76(xy), WHITE)
    assert hue == pytest.approx(lch[:, 2], abs=1e-6)
    assert ((saturation > 0.5) & (saturation < 1.0)).all()


@pytest.mark.parametrize("white_k", [2000.0, 4300.0, 6500.0, 20000.0])
def test_every_hue_is_a_chromaticity_that_a_light_can_have(white_k: float) -> None:
    for hue in range(0, 361, 3):
        x, y = hue_to_xy(float(hue), 1.0, white_k)
        assert x > 0.0 and y > 0.0 and x + y < 1.0


def test_no_saturation_is_the_planckian_white(colour_science: ModuleType) -> None:
    uv = colour_science.temperature.CCT_to_uv_Ohno2013(np.array([4300.0, 0.0]))
    assert hue_to_xy(77.0, 0.0, 4300.0) == pytest.approx(colour_science.UCS_uv_to_xy(uv), abs=2e-6)


def test_saturation_is_clamped_and_the_white_has_none() -> None:
    assert hue_to_uv76(30.0, 1.7, WHITE) == pytest.approx(hue_to_uv76(30.0, 1.0, WHITE))
    assert hue_to_uv76(30.0, -0.5, WHITE) == pytest.approx(WHITE)
    assert uv76_to_hue(WHITE, WHITE) == (0.0, 0.0)


def test_a_white_that_is_no_colour() -> None:
    with pytest.raises(ValueError, match="the white must be a real colour"):
        hue_to_uv76(30.0, 0.5, (0.9, 0.9))
