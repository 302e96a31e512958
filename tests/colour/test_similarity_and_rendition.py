"""SSI, Ra, Rf and Rg of published illuminants."""

from __future__ import annotations

import sys
from types import ModuleType

import numpy as np
import pytest

from onecrew.colour.cmf import wavelengths_nm
from onecrew.colour.daylight import daylight_spectrum
from onecrew.colour.planck import spectrum as planckian
from onecrew.colour.rendition import NeedsSpectralExtra, rendition
from onecrew.colour.similarity import similarity, similarity_reference


def on_the_grid(colour: ModuleType, name: str) -> np.ndarray:
    """A tabulated illuminant, linear between its 5 nm, on the 1 nm grid."""
    table = colour.SDS_ILLUMINANTS[name]
    return np.interp(wavelengths_nm(), table.wavelengths, table.values, left=0.0, right=0.0)


def ohno_led(peak_nm: float, width_nm: float) -> np.ndarray:
    """LED model of Ohno, Opt. Eng. 44(11) 111302 (2005)."""
    bell = np.exp(-(((wavelengths_nm() - peak_nm) / width_nm) ** 2))
    return (bell + 2.0 * bell**5) / 3.0


def test_ssi_of_c_against_d65(colour_science: ModuleType) -> None:
    # Academy S-2018-001; value of colour-science's tests.
    got = similarity(on_the_grid(colour_science, "C"), on_the_grid(colour_science, "D65"))
    assert got == pytest.approx(94.18297, abs=1e-5)


@pytest.mark.parametrize(
    ("peak", "width", "there", "back"), [(520, 45, 52, 50), (540, 55, 82, 84), (560, 50, 18, 20)]
)
def test_ssi_of_leds_both_ways(peak: float, width: float, there: int, back: int) -> None:
    # Value of colour-science's tests, against the LED 535/48.
    led, aim = ohno_led(peak, width), ohno_led(535, 48)
    assert round(similarity(led, aim)) == there
    assert round(similarity(aim, led)) == back


@pytest.mark.parametrize(
    ("name", "p3200", "d55", "d65"),
    # Computed with colour-science, not rounded.
    [
        ("A", 90.85, 56.02, 46.62),
        ("FL2", 55.29, 62.26, 58.26),
        ("FL7", 49.54, 83.44, 86.49),
        ("FL11", 33.82, 33.63, 28.63),
        ("LED-B3", 64.84, 66.70, 60.10),
        ("LED-RGB1", 49.29, 18.57, 7.95),
        ("LED-V2", 67.75, 78.91, 73.03),
    ],
)
def test_ssi_of_illuminants(
    colour_science: ModuleType, name: str, p3200: float, d55: float, d65: float
) -> None:
    power = on_the_grid(colour_science, name)
    d55_power, d65_power = (on_the_grid(colour_science, white) for white in ("D55", "D65"))
    assert similarity(power, planckian(3200.0)) == pytest.approx(p3200, abs=0.02)
    assert similarity(power, d55_power) == pytest.approx(d55, abs=0.02)
    assert similarity(power, d65_power) == pytest.approx(d65, abs=0.02)


def test_ssi_against_colour_science(colour_science: ModuleType) -> None:
    rng = np.random.default_rng(4)
    shape = colour_science.SpectralShape(360, 830, 1)
    for _ in range(10):
        test, aim = (
            np.convolve(rng.uniform(0.1, 1.0, 480), np.ones(10) / 10, mode="valid") for _ in range(2)
        )
        theirs = colour_science.spectral_similarity_index(
            colour_science.SpectralDistribution(test, shape),
            colour_science.SpectralDistribution(aim, shape),
            round_result=False,
        )
        assert similarity(test, aim) == pytest.approx(float(theirs), abs=1e-9)


def test_a_light_is_similar_to_itself() -> None:
    assert similarity(planckian(2800.0), 5.0 * planckian(2800.0)) == pytest.approx(100.0)
    assert similarity_reference(3999.4) == pytest.approx(planckian(3999.0))
    assert similarity_reference(5600.2) == pytest.approx(daylight_spectrum(5600.0))


def test_no_similarity_without_light() -> None:
    with pytest.raises(ValueError, match=r"shape \(471,\), got \(10,\)"):
        similarity(np.ones(10), np.ones(471))
    with pytest.raises(ValueError, match="some power between 375 and 675 nm"):
        similarity(np.zeros(471), np.ones(471))


@pytest.mark.parametrize(
    ("name", "ra"),
    # Ra of FL7 90 and FL11 83: Haskell Color documentation, citing CIE; of the other FL: from memory.
    [
        *(("FL1", 76), ("FL2", 64), ("FL3", 57), ("FL4", 51), ("FL5", 72), ("FL6", 59), ("FL7", 90)),
        *(("FL9", 90), ("FL10", 81), ("FL11", 83), ("FL12", 83), ("A", 100)),
    ],
)
def test_published_ra(colour_science: ModuleType, name: str, ra: float) -> None:
    # A whole number plus the 0.1 nm–5 nm detail of the tables.
    assert rendition(on_the_grid(colour_science, name)).ra == pytest.approx(ra, abs=0.6)


# (name, Ra, Rf, Rg): CIE 15:2018 tables, computed with colour-science on the 5 nm values; luxpy 1.12.5 within
# 0.4, 0.11 and 0.07.
COMPUTED = [
    ("C", 97.56, 97.83, 101.23),
    ("FL2", 64.23, 70.12, 86.42),
    ("FL8", 95.53, 95.46, 101.67),
    ("HP1", 8.50, 34.19, 53.97),
    ("HP5", 89.14, 90.11, 97.44),
    ("LED-B1", 81.79, 84.08, 96.15),
    ("LED-B2", 82.79, 84.30, 96.58),
    ("LED-B3", 84.84, 85.32, 97.86),
    ("LED-B4", 76.85, 76.91, 95.51),
    ("LED-B5", 80.28, 79.47, 94.15),
    ("LED-BH1", 91.81, 85.24, 106.77),
    ("LED-RGB1", 57.39, 71.00, 107.01),
    ("LED-V1", 95.33, 87.34, 101.93),
    ("LED-V2", 95.70, 94.07, 99.32),
]


@pytest.mark.parametrize(("name", "ra", "rf", "rg"), COMPUTED)
def test_rendition_of_illuminants(
    colour_science: ModuleType, name: str, ra: float, rf: float, rg: float
) -> None:
    got = rendition(on_the_grid(colour_science, name))
    assert (got.ra, got.rf, got.rg) == pytest.approx((ra, rf, rg), abs=0.5)


def test_the_official_tm30_calculator_on_fl2(colour_science: ModuleType) -> None:
    # IES TM-30-18 spreadsheet for FL2, as in colour-science's tests: Rf 70, Rg 86, CCT 4225, Duv 0.0019.
    got = rendition(on_the_grid(colour_science, "FL2"))
    assert (round(got.rf), round(got.rg)) == (70, 86)
    assert got.cct_k == pytest.approx(4225, abs=1.0)
    assert got.duv == pytest.approx(0.0019, abs=5e-5)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["FL2", "FL11", "LED-B3", "LED-V1"])
def test_rendition_against_luxpy(colour_science: ModuleType, luxpy: ModuleType, name: str) -> None:
    power = on_the_grid(colour_science, name)
    spd = np.vstack((np.arange(380.0, 781.0, 5.0), power[20:421:5]))
    got = rendition(power)
    assert got.ra == pytest.approx(float(luxpy.cri.spd_to_ciera(spd)[0, 0]), abs=0.5)
    rf, rg = luxpy.cri.spd_to_iesrf(spd, out="Rf,Rg")
    assert (got.rf, got.rg) == pytest.approx((float(rf[0, 0]), float(rg[0, 0])), abs=0.5)


def test_references_render_perfectly() -> None:
    for power in (planckian(2800.0), daylight_spectrum(5600.0)):
        got = rendition(power)
        assert (got.ra, got.rf, got.rg) == pytest.approx((100.0, 100.0, 100.0), abs=0.05)
        assert got.rf <= 100.0
        assert got.ssi == 100


@pytest.mark.parametrize("power", [np.zeros(471), np.ones(10), np.full(471, -1.0), np.full(471, np.nan)])
def test_no_rendition_without_light(power: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"a spectrum needs shape \(471,\)"):
        rendition(power)


def test_a_saturated_light_renders_nothing() -> None:
    with pytest.raises(ValueError, match=r"lies .* the whites"):
        rendition(ohno_led(525.0, 35.0))


def test_without_the_extra_one_sentence_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "colour", None)
    with pytest.raises(NeedsSpectralExtra, match=r"pip install 'onecrew\[spectral\]'") as caught:
        rendition(planckian(3200.0))
    assert isinstance(caught.value, ImportError)
