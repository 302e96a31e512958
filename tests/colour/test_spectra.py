"""Bells, chromaticities and efficacies of spectra, and the illuminants whites are judged against."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import wavelengths_nm
from onecrew.colour.locus import uv60_to_white
from onecrew.colour.planck import spectrum as planckian
from onecrew.colour.spaces import xy_to_uv60
from onecrew.colour.spectra import (
    at_unit_light,
    bells,
    reference_spectrum,
    spectrum_to_xy,
    spectrum_to_xyz,
)

MOST_LUMENS_PER_WATT = 683.002
"""lm/W where V(λ) is 1, at 555 nm. The SI brochure of 2019 fixes K_cd = 683 lm/W at 540 THz, where V(λ) is
just below 1; the .002 is from memory."""


def lumens_per_watt(power: FloatArray) -> FloatArray:
    """Luminous efficacy of radiation of spectra (..., 471), in lm per radiant W within 360–830 nm."""
    efficacy: FloatArray = MOST_LUMENS_PER_WATT * spectrum_to_xyz(power)[..., 1] / power.sum(axis=-1)
    return efficacy


# (λ0, Δλ, x, y, lm/W): LED model of Ohno, Opt. Eng. 44(11) 111302 (2005), S = (g + 2g⁵)/3 with
# g = exp(−((λ−λ0)/Δλ)²), 1 nm 360–830, computed with colour-science. Δλ is not the full width at half
# maximum: that is 0.9218 Δλ.
OHNO_LEDS = [
    (450, 20, 0.15430, 0.02110, 29.0),
    (465, 25, 0.13488, 0.05214, 59.9),
    (525, 35, 0.16918, 0.71654, 496.0),
    (555, 25, 0.34928, 0.64330, 654.9),
    (595, 15, 0.59687, 0.40255, 472.8),
    (630, 20, 0.69849, 0.30141, 190.1),
]


@pytest.mark.parametrize(("peak", "width", "x", "y", "efficacy"), OHNO_LEDS)
def test_ohno_leds(peak: float, width: float, x: float, y: float, efficacy: float) -> None:
    # g is a bell of full width 2√ln2 Δλ, g⁵ one √5 narrower, at the same peak.
    fwhm = 2.0 * np.sqrt(np.log(2.0)) * width
    power = bells([(peak, fwhm, 1.0), (peak, fwhm / np.sqrt(5.0), 2.0)])
    assert spectrum_to_xy(power) == pytest.approx([x, y], abs=6e-6)
    assert float(lumens_per_watt(power)) == pytest.approx(efficacy, rel=2e-3)


@settings(max_examples=40, deadline=None)
@given(peak=st.floats(420.0, 760.0), fwhm=st.floats(8.0, 100.0))
def test_a_bell_is_half_as_high_at_half_its_width(peak: float, fwhm: float) -> None:
    grid = wavelengths_nm()
    power = bells([(peak, fwhm, 2.0)])
    assert power.max() <= 2.0
    fine = np.interp([peak - fwhm / 2, peak, peak + fwhm / 2], grid, power)
    assert fine == pytest.approx([1.0, 2.0, 1.0], abs=0.03)


def test_bells_against_colour_science(colour_science: ModuleType) -> None:
    theirs = colour_science.sd_gaussian(560.0, 40.0, colour_science.SpectralShape(360, 830, 1), method="FWHM")
    assert bells([(560.0, 40.0, 1.0)]) == pytest.approx(theirs.values, abs=1e-12)


def test_bells_add_up() -> None:
    both = bells([(450, 20, 1.0), (600, 80, 0.5)])
    assert both == pytest.approx(bells([(450, 20, 1.0)]) + bells([(600, 80, 0.5)]))


@pytest.mark.parametrize(
    ("peaks", "said"),
    [
        ([], "at least one bell"),
        ([(350, 20, 1.0)], "360–830 nm, got 350 nm"),
        ([(450, 0, 1.0)], "width and a height above 0"),
        ([(450, 20, -1.0)], "width and a height above 0"),
        ([(float("nan"), 20, 1.0)], "got nan nm"),
    ],
)
def test_bells_that_cannot_be(peaks: list[tuple[float, float, float]], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        bells(peaks)


def test_light_of_a_whole_spectrum() -> None:
    # Equal energy: x = y = 1/3 by definition of the observer (CIE 15:2004).
    assert spectrum_to_xy(np.ones(471)) == pytest.approx([1 / 3, 1 / 3], abs=5e-5)
    assert spectrum_to_xyz(at_unit_light(np.ones((2, 471))))[:, 1] == pytest.approx([1.0, 1.0])
    with pytest.raises(ValueError, match=r"shape \(\.\.\., 471\)"):
        spectrum_to_xy(np.ones(470))


def test_one_nanometre_at_555_nm_carries_683_lumens_a_watt() -> None:
    # SI brochure of 2019: K_cd = 683 lm/W at 540 THz, which is 555 nm in air.
    power = np.zeros(471)
    power[555 - 360] = 1.0
    assert float(lumens_per_watt(power)) == pytest.approx(683.0, abs=0.1)


# (name, x, y, CCT as published): CIE 15:2018, tables 12.1 and 12.2 (second-hand, several public copies).
# LED-V1 is often copied as (0.4560, 0.4548), which is wrong.
CIE_LEDS = [
    ("LED-B1", 0.4560, 0.4078, 2733),
    ("LED-B2", 0.4357, 0.4012, 2998),
    ("LED-B3", 0.3756, 0.3723, 4103),
    ("LED-B4", 0.3422, 0.3502, 5109),
    ("LED-B5", 0.3118, 0.3236, 6598),
    ("LED-BH1", 0.4474, 0.4066, 2851),
    ("LED-RGB1", 0.4557, 0.4211, 2840),
    ("LED-V1", 0.4548, 0.4044, 2724),
    ("LED-V2", 0.3781, 0.3775, 4070),
]


@pytest.mark.parametrize(("name", "x", "y", "cct_k"), CIE_LEDS)
def test_cie_leds_have_their_published_colour(
    colour_science: ModuleType, name: str, x: float, y: float, cct_k: float
) -> None:
    # The published figures are sums over the 5 nm of the tables as they stand.
    table = colour_science.SDS_ILLUMINANTS[name]
    power = np.zeros(471)
    power[(table.wavelengths - 360).astype(int)] = table.values
    xy = spectrum_to_xy(power)
    assert xy == pytest.approx([x, y], abs=6e-5)
    assert float(uv60_to_white(xy_to_uv60(xy))[0]) == pytest.approx(cct_k, abs=1.0)


@pytest.mark.filterwarnings("ignore:Aligning")
def test_the_reference_is_planckian_then_blended_then_daylight(colour_science: ModuleType) -> None:
    # CIE 224:2017: Planckian up to 4000 K, daylight from 5000 K, a linear blend at equal light in between.
    from colour.quality.cfi2017 import sd_reference_illuminant

    shape = colour_science.SpectralShape(380, 780, 5)
    for cct_k in (2700.0, 3999.0, 4000.0, 4300.0, 4700.0, 5000.0, 5600.0, 6500.0, 9000.0):
        theirs = sd_reference_illuminant(cct_k, shape).values
        ours = reference_spectrum(cct_k)[20:421:5]
        # Theirs rounds M1 and M2 of daylight to three decimals.
        assert ours / ours.sum() == pytest.approx(theirs / theirs.sum(), rel=5e-4), cct_k


def test_the_reference_moves_without_a_step() -> None:
    for at in (4000.0, 5000.0, 7000.0):
        below, above = reference_spectrum([at - 1e-4, at + 1e-4])
        assert np.abs(above - below).max() < 1e-6
    assert reference_spectrum(3000.0) == pytest.approx(at_unit_light(planckian(3000.0)))
