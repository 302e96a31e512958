"""The camera's eye: published adaptation matrices, and what a lamp looks like at a white balance."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.adaptation import (
    CAT16,
    RGB_FROM_XYZ,
    adaptation_matrix,
    camera_linear,
    camera_rgb,
    swatch,
    swatches,
)
from onecrew.colour.daylight import daylight_xy
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.spaces import uv60_to_xy, xy_to_uv76, xyy_to_xyz

# Cone matrices as colour-science carries them.
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
CAT02 = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])

# Whites of ASTM E308, as Lindbloom's tables use them.
WHITES = {"A": (1.09850, 1.0, 0.35585), "D50": (0.96422, 1.0, 0.82521), "D65": (0.95047, 1.0, 1.08883)}

MATRICES = [
    # Lindbloom's printed Bradford matrices (from memory, verified with numpy).
    (
        BRADFORD,
        "D65",
        "D50",
        "1.0478112 .0228866 -.0501270 .0295424 .9904844 -.0170491 -.0092345 .0150436 .7521316",
    ),
    (
        BRADFORD,
        "D50",
        "D65",
        ".9555766 -.0230393 .0631636 -.0282895 1.0099416 .0210077 .0122982 -.0204830 1.3299098",
    ),
    (
        BRADFORD,
        "A",
        "D65",
        ".8446965 -.1179225 .3948108 -.1366303 1.1041226 .1291718 .0798489 -.1348999 3.1924009",
    ),
    # Computed with numpy.
    (
        CAT02,
        "D65",
        "D50",
        "1.0424827 .0308012 -.0527444 .0221296 1.0018822 -.0210462 -.0011630 -.0034171 .7620404",
    ),
    (
        CAT16,
        "D65",
        "D50",
        "1.0108226 .0405991 -.0341060 .0054139 .9935956 .0011560 .0002508 -.0114802 .7682115",
    ),
    (
        CAT16,
        "A",
        "D65",
        ".9506894 -.1873763 .2627906 -.0256652 1.0323067 -.0115596 -.0027406 .0909675 2.8126265",
    ),
]


def planckian_xy(cct_k: float) -> np.ndarray:
    return uv60_to_xy(white_to_uv60(cct_k))


@pytest.mark.parametrize(("cones", "white_from", "white_to", "printed"), MATRICES)
def test_printed_matrices(cones: np.ndarray, white_from: str, white_to: str, printed: str) -> None:
    ours = adaptation_matrix(WHITES[white_from], WHITES[white_to], cones)
    assert ours.ravel() == pytest.approx([float(part) for part in printed.split()], abs=6e-8)


def test_the_matrix_of_css_color_4() -> None:
    # W3C CSS Color 4, D65 → D50 with whites from (0.3127, 0.3290) and (0.3457, 0.3585).
    ours = adaptation_matrix(xyy_to_xyz((0.3127, 0.3290)), xyy_to_xyz((0.3457, 0.3585)), BRADFORD)
    printed = [1.04792979, 0.02294687, -0.05019227, 0.02962781, 0.99043443, -0.01707380]
    assert ours.ravel()[:6] == pytest.approx(printed, abs=3e-8)
    assert ours.ravel()[6:] == pytest.approx([-0.00924304, 0.01505519, 0.75187428], abs=3e-8)


def test_a_worked_colour() -> None:
    # Example of colour-science's documentation, CAT02.
    matrix = adaptation_matrix((0.95045593, 1.0, 1.08905775), (0.96429568, 1.0, 0.82510460), CAT02)
    assert matrix @ (0.20654008, 0.12197225, 0.05136952) == pytest.approx(
        [0.2163882, 0.1257, 0.0384749], abs=1e-7
    )


def test_the_matrix_of_srgb() -> None:
    # IEC 61966-2-1 as printed by Lindbloom for D65 (0.95047, 1, 1.08883); ours is for (0.3127, 0.3290).
    printed = [
        3.2404542,
        -1.5371385,
        -0.4985314,
        -0.9692660,
        1.8760108,
        0.0415560,
        0.0556434,
        -0.2040259,
        1.0572252,
    ]
    assert RGB_FROM_XYZ.ravel() == pytest.approx(printed, abs=6e-4)
    assert RGB_FROM_XYZ @ xyy_to_xyz((0.3127, 0.3290)) == pytest.approx([1.0, 1.0, 1.0], abs=1e-12)


@pytest.mark.parametrize(
    ("lamp_k", "wb_k", "red", "blue"),
    # R/G and B/G in linear sRGB, CAT16, computed with numpy on Lindbloom's sRGB matrix.
    [
        (2700, 3200, 1.3097, 0.7167),
        (2700, 5600, 2.1450, 0.2772),
        (3200, 5600, 1.7178, 0.4245),
        (5600, 3200, 0.4357, 2.2247),
        (10000, 3200, 0.1804, 3.6477),
        (3200, 3200, 1.0, 1.0),
        (5600, 5600, 1.0, 1.0),
    ],
)
def test_lamps_at_a_white_balance(lamp_k: float, wb_k: float, red: float, blue: float) -> None:
    linear = camera_linear(planckian_xy(lamp_k), wb_k)
    assert linear[0] / linear[1] == pytest.approx(red, rel=1e-3)
    assert linear[2] / linear[1] == pytest.approx(blue, rel=1e-3)


def test_adaptation_and_encoding_against_colour_science(colour_science: ModuleType) -> None:
    wb_k = 4300.0
    source, d65 = xyy_to_xyz(planckian_xy(wb_k)), xyy_to_xyz((0.3127, 0.3290))
    xy = np.array([planckian_xy(3200.0), planckian_xy(6500.0), daylight_xy(5600.0)])
    adapted = colour_science.adaptation.chromatic_adaptation_VonKries(
        xyy_to_xyz(xy), source, d65, transform="CAT16"
    )
    theirs = adapted @ colour_science.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB.T
    # Theirs has sRGB's matrix as printed in IEC 61966-2-1, to four digits.
    assert camera_linear(xy, wb_k) == pytest.approx(theirs, abs=2e-3)
    encoded = colour_science.models.eotf_inverse_sRGB(theirs / theirs.max(axis=1, keepdims=True))
    assert camera_rgb(xy, wb_k) == pytest.approx(encoded, abs=2e-3)


def test_a_tungsten_lamp_is_white_at_3200_and_orange_at_5600() -> None:
    lamp = planckian_xy(3200.0)
    assert swatch(lamp, 3200.0) == "#ffffff"
    red, green, blue = camera_rgb(lamp, 5600.0)
    assert red == pytest.approx(1.0)
    assert 0.7 < green < 0.85
    assert 0.4 < blue < 0.65
    assert camera_rgb(planckian_xy(5600.0), 3200.0)[2] == pytest.approx(1.0)


def test_many_swatches_at_once() -> None:
    xy = np.array([planckian_xy(2700.0), planckian_xy(4300.0), [0.69, 0.308], [0.15, 0.03]])
    assert swatches(xy, 4300.0) == [swatch(one, 4300.0) for one in xy]
    assert swatches(xy, 4300.0)[1] == "#ffffff"
    assert swatches(np.empty((0, 2)), 4300.0) == []


@settings(max_examples=100, deadline=None)
@given(
    xy=st.tuples(st.floats(0.02, 0.72), st.floats(0.02, 0.82)).filter(lambda xy: sum(xy) < 0.98),
    wb_k=st.floats(1500.0, 15000.0),
)
def test_any_colour_has_a_swatch_of_its_hue(xy: tuple[float, float], wb_k: float) -> None:
    rgb = camera_rgb(xy, wb_k)
    assert rgb.max() == pytest.approx(1.0)
    assert rgb.min() >= 0.0
    # Clipping keeps the order of the channels, and their spacing: the hue does not flip.
    linear = camera_linear(xy, wb_k)
    order = np.argsort(linear)
    assert (np.diff(rgb[order]) >= -1e-12).all()
    if linear.min() < 0.0:
        share = (linear[order[1]] - linear[order[0]]) / (linear[order[2]] - linear[order[0]])
        decoded = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        assert decoded[order[0]] == pytest.approx(0.0, abs=1e-12)
        assert decoded[order[1]] == pytest.approx(share, abs=1e-6)


def test_the_white_balance_is_clamped_to_the_whites() -> None:
    xy = planckian_xy(3200.0)
    assert camera_rgb(xy, 500.0) == pytest.approx(camera_rgb(xy, 1000.0))
    assert camera_rgb(xy, 90000.0) == pytest.approx(camera_rgb(xy, 25000.0))


def test_shape_is_kept() -> None:
    assert camera_rgb(np.full((3, 4, 2), 0.33), 5600.0).shape == (3, 4, 3)
    assert xy_to_uv76(planckian_xy(5600.0)).shape == (2,)
