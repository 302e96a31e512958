"""The CIE D series."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from onecrew.colour.daylight import daylight_spectrum, daylight_xy
from onecrew.colour.locus import uv60_to_white
from onecrew.colour.spaces import xy_to_uv60
from onecrew.colour.spectra import spectrum_to_xy

# (T, x, y): CIE 15:2004 polynomials, coefficients as in colour-science, computed with numpy.
SERIES = [
    (4000.00, 0.382344, 0.383766),
    (5002.78, 0.345659, 0.358601),
    (5503.06, 0.332429, 0.347544),
    (5600.00, 0.330164, 0.345546),
    (6003.34, 0.321626, 0.337737),
    (6500.00, 0.312779, 0.329183),
    (6503.62, 0.312720, 0.329125),
    (7504.17, 0.299043, 0.314973),
    (10000.00, 0.278800, 0.291967),
    (25000.00, 0.249854, 0.254799),
]

# Chromaticities of the tabulated illuminants, CIE 15:2018 (D50, D55 read second-hand; D65, D75 from memory,
# verified by integration). Their spectra carry M1 and M2 rounded to three decimals: 1e-4 in y.
NOMINAL_TO_PRESENT = 1.4388 / 1.4380
"""D50, D55, D65 and D75 were named with the c₂ of their day: D65 is 6500 K times this."""
TABULATED = [
    (5000, 0.34567, 0.35851),
    (5500, 0.33243, 0.34744),
    (6500, 0.31272, 0.32903),
    (7500, 0.29903, 0.31488),
]


@pytest.mark.parametrize(("cct_k", "x", "y"), SERIES)
def test_the_series(cct_k: float, x: float, y: float) -> None:
    assert daylight_xy(cct_k) == pytest.approx([x, y], abs=6e-7)


@pytest.mark.parametrize(("nominal", "x", "y"), TABULATED)
def test_the_tabulated_illuminants(nominal: float, x: float, y: float) -> None:
    assert daylight_xy(nominal * NOMINAL_TO_PRESENT) == pytest.approx([x, y], abs=1.3e-4)
    assert spectrum_to_xy(daylight_spectrum(nominal * NOMINAL_TO_PRESENT)) == pytest.approx(
        [x, y], abs=1.3e-4
    )


def test_spectrum_and_chromaticity_are_of_one_mind() -> None:
    cct_k = np.linspace(4000.0, 25000.0, 60)
    assert np.abs(spectrum_to_xy(daylight_spectrum(cct_k)) - daylight_xy(cct_k)).max() < 2.5e-4


def test_the_spectra_against_colour_science(colour_science: ModuleType) -> None:
    for cct_k in (4000.0, 5600.0, 6504.0, 12000.0):
        xy = colour_science.temperature.CCT_to_xy_CIE_D(cct_k)
        theirs = colour_science.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False)
        ours = daylight_spectrum(cct_k)
        assert ours[::5] == pytest.approx(theirs.values[12:], rel=1e-9), cct_k


def test_the_chromaticities_against_luxpy(luxpy: ModuleType) -> None:
    for cct_k in (4000.0, 5600.0, 6504.0, 12000.0):
        x, y = luxpy.daylightlocus(cct_k)
        assert daylight_xy(cct_k) == pytest.approx([float(x[0, 0]), float(y[0, 0])], abs=1e-9)


def test_daylight_lies_above_the_locus() -> None:
    # Duv of the D series +0.0027 at 4000 K to +0.0033 at 5600 K, computed with colour-science.
    cct_k, duv = uv60_to_white(xy_to_uv60(daylight_xy([4000.0, 5600.0])))
    assert duv == pytest.approx([0.0027, 0.0033], abs=6e-5)
    assert cct_k == pytest.approx([4000.0, 5600.0], abs=3.0)


def test_no_step_where_the_two_polynomials_meet() -> None:
    # The published coefficients themselves leave 2e-6 between them at 7000 K.
    below, above = daylight_xy([7000.0, 7000.0001])
    assert np.abs(above - below).max() < 3e-6


@pytest.mark.parametrize("cct_k", [3999.0, 25001.0, float("nan")])
def test_the_bounds_are_named(cct_k: float) -> None:
    with pytest.raises(ValueError, match="daylight runs from 4000 to 25000 K, got"):
        daylight_xy([5600.0, cct_k])
    with pytest.raises(ValueError, match="daylight runs from 4000 to 25000 K, got"):
        daylight_spectrum(cct_k)
