"""ΔE2000 against the published pairs of Sharma, Wu and Dalal (2005), and CIELAB against colour-science."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from onecrew.colour.difference import delta_e_2000, rgb_to_lab

# Table 1 of the paper, by its transcriptions in public code; the paper itself was not opened.
PAIRS = (
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),
    ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
)


@pytest.mark.parametrize(("one", "other", "expected"), PAIRS)
def test_the_published_pairs(one: tuple[float, ...], other: tuple[float, ...], expected: float) -> None:
    assert float(delta_e_2000(one, other)) == pytest.approx(expected, abs=5e-5)
    assert float(delta_e_2000(other, one)) == pytest.approx(expected, abs=5e-5)


def test_as_colour_science_over_the_whole_solid() -> None:
    rng = np.random.default_rng(5)
    one, other = (rng.uniform((0, -100, -100), (100, 100, 100), (500, 3)) for _ in range(2))
    expected = colour.difference.delta_E_CIE2000(one, other)
    np.testing.assert_allclose(delta_e_2000(one, other), expected, atol=1e-6)


def test_lab_of_srgb_is_as_colour_science_has_it() -> None:
    rgb = np.random.default_rng(6).uniform(0.0, 1.0, (50, 3))
    xyz = colour.RGB_to_XYZ(rgb, "sRGB", apply_cctf_decoding=False)
    expected = colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])
    np.testing.assert_allclose(rgb_to_lab(rgb), expected, atol=0.05)
