"""Chromaticity diagrams and XYZ."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour import spaces

XY = st.tuples(st.floats(0.02, 0.74), st.floats(0.02, 0.84)).filter(lambda xy: sum(xy) < 0.98)

# CIE 15:2004: (x, y), (u, v) of 1960 and v′ of 1976 for the Planckian at 5600 K, computed with numpy on the
# CIE data; luxpy 1.12.5 agrees to the digits printed.
WHITE_XY, WHITE_UV60, WHITE_V76 = (0.330200, 0.339081), (0.206099, 0.317463), 0.476195


def test_the_diagrams_agree_with_a_computed_white() -> None:
    assert spaces.xy_to_uv60(WHITE_XY) == pytest.approx(WHITE_UV60, abs=1e-6)
    assert spaces.xy_to_uv76(WHITE_XY) == pytest.approx((WHITE_UV60[0], WHITE_V76), abs=1e-6)


def test_every_conversion_agrees_with_colour_science(colour_science: ModuleType) -> None:
    rng = np.random.default_rng(2)
    xy = rng.dirichlet((2.0, 2.0, 2.0), 200)[:, :2]
    uv60, uv76 = spaces.xy_to_uv60(xy), spaces.xy_to_uv76(xy)
    assert np.abs(uv60 - colour_science.xy_to_UCS_uv(xy)).max() < 1e-14
    assert np.abs(uv76 - colour_science.xy_to_Luv_uv(xy)).max() < 1e-14
    assert np.abs(spaces.uv60_to_xy(uv60) - colour_science.UCS_uv_to_xy(uv60)).max() < 1e-14
    assert np.abs(spaces.uv76_to_xy(uv76) - colour_science.Luv_uv_to_xy(uv76)).max() < 1e-14
    xyy = np.column_stack((xy, rng.uniform(0.0, 5.0, 200)))
    assert np.abs(spaces.xyy_to_xyz(xy, xyy[:, 2]) - colour_science.xyY_to_XYZ(xyy)).max() < 1e-9


@settings(max_examples=100, deadline=None)
@given(xy=XY)
def test_every_conversion_has_its_way_back(xy: tuple[float, float]) -> None:
    assert spaces.uv60_to_xy(spaces.xy_to_uv60(xy)) == pytest.approx(xy, abs=1e-12)
    assert spaces.uv76_to_xy(spaces.xy_to_uv76(xy)) == pytest.approx(xy, abs=1e-12)
    assert spaces.uv76_to_uv60(spaces.uv60_to_uv76(xy)) == pytest.approx(xy, abs=1e-15)
    assert spaces.xyz_to_xy(spaces.xyy_to_xyz(xy, 3.0)) == pytest.approx(xy, abs=1e-12)
    uv76 = spaces.xy_to_uv76(xy)
    assert spaces.uv76_to_xyz(uv76) == pytest.approx(spaces.xyy_to_xyz(xy, 1.0), rel=1e-12, abs=1e-12)


def test_leading_dimensions_are_kept() -> None:
    xy = np.full((3, 4, 2), 0.3)
    assert spaces.xy_to_uv76(xy).shape == (3, 4, 2)
    assert spaces.xyy_to_xyz(xy, np.ones((3, 4))).shape == (3, 4, 3)


def test_a_wrong_shape_is_named() -> None:
    with pytest.raises(ValueError, match=r"xy needs arrays of shape \(\.\.\., 2\), got \(3,\)"):
        spaces.xy_to_uv60([0.3, 0.3, 0.4])
    with pytest.raises(ValueError, match=r"xyz needs arrays of shape \(\.\.\., 3\)"):
        spaces.xyz_to_xy(0.3)
