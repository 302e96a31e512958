"""Whites by direct integration, both ways, against published tables and worked examples."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.locus import uv60_to_white, white_to_uv60
from onecrew.colour.planck import curve
from onecrew.colour.spaces import uv60_to_xy, xy_to_uv60, xyy_to_xyz

LAWS = settings(max_examples=60, deadline=None)
CCT = st.floats(1000.0, 25000.0)
DUV = st.floats(-0.05, 0.05)

# (T, x, y): Planckian radiator, c2 = 1.4388e-2 m·K (ITS-90), CIE 1931 2°, 1 nm 360–830. Computed with numpy
# on colour-science's CMFs; luxpy 1.12.5 agrees to every digit printed.
PLANCKIAN = [
    (1000, 0.652753, 0.344460),
    (1500, 0.585721, 0.393120),
    (2000, 0.526681, 0.413296),
    (2500, 0.476998, 0.413676),
    (2700, 0.459863, 0.410600),
    (2800, 0.451860, 0.408631),
    (2856, 0.447539, 0.407429),
    (3000, 0.436934, 0.404075),
    (3200, 0.423363, 0.398953),
    (4000, 0.380442, 0.376749),
    (4300, 0.368113, 0.368691),
    (5000, 0.345103, 0.351610),
    (5600, 0.330200, 0.339081),
    (6500, 0.313528, 0.323630),
    (7500, 0.300336, 0.310268),
    (10000, 0.280634, 0.288289),
    (20000, 0.256458, 0.257631),
]

# (T, Duv, x, y): normal to the locus in CIE 1960 (u, v), by central differences with numpy on
# colour-science's CMFs.
WITH_DUV = [
    (2000, -0.02, 0.484314, 0.356905),
    (2700, -0.005, 0.451435, 0.395475),
    (3200, 0.001, 0.424655, 0.401899),
    (3200, 0.01, 0.436859, 0.429721),
    (4300, -0.003, 0.366574, 0.361495),
    (4300, 0.006, 0.371309, 0.38364),
    (5600, 0.003, 0.330154, 0.344924),
    (5600, -0.003, 0.330244, 0.333363),
    (5600, -0.01, 0.330345, 0.320486),
    (5600, 0.02, 0.329876, 0.380615),
    (6500, 0.0032, 0.312772, 0.329057),
    (10000, 0.01, 0.274429, 0.300297),
    (10000, -0.01, 0.286527, 0.276886),
]

# (name, x, y, CCT, Duv): chromaticities of CIE 15:2018 (A, D50, D55 read; C, D65, D75, E from memory, all
# verified by integration), CCT and Duv by exact minimisation with numpy. "6504 K" for D65 is McCamy's
# estimate; its CCT is 6503.0 K.
ILLUMINANTS = [
    ("A", 0.44758, 0.40745, 2855.5, 0.0000),
    ("C", 0.31006, 0.31616, 6774.2, -0.00215),
    ("D50", 0.34567, 0.35851, 5001.9, 0.00321),
    ("D55", 0.33243, 0.34744, 5502.4, 0.00325),
    ("D65", 0.31272, 0.32903, 6503.0, 0.00321),
    ("D75", 0.29903, 0.31488, 7505.1, 0.00314),
    ("E", 1 / 3, 1 / 3, 5455.5, -0.00442),
]


@pytest.mark.parametrize(("cct_k", "x", "y"), PLANCKIAN)
def test_the_locus_is_where_integration_puts_it(cct_k: float, x: float, y: float) -> None:
    assert uv60_to_xy(white_to_uv60(cct_k)) == pytest.approx([x, y], abs=6e-7)


@pytest.mark.parametrize(("cct_k", "duv", "x", "y"), WITH_DUV)
def test_duv_is_measured_along_the_normal(cct_k: float, duv: float, x: float, y: float) -> None:
    assert uv60_to_xy(white_to_uv60(cct_k, duv)) == pytest.approx([x, y], abs=1e-6)


@pytest.mark.parametrize(("name", "x", "y", "cct_k", "duv"), ILLUMINANTS)
def test_cie_illuminants(name: str, x: float, y: float, cct_k: float, duv: float) -> None:
    got_k, got_duv = uv60_to_white(xy_to_uv60([x, y]))
    # Five digits of chromaticity leave 0.3 K and 1e-5.
    assert float(got_k) == pytest.approx(cct_k, abs=0.3), name
    assert float(got_duv) == pytest.approx(duv, abs=1.2e-5), name


def test_ohno_worked_point() -> None:
    # Ohno, LEUKOS 10(1):47–55 (2014), doi 10.1080/15502724.2014.839020; the point is the worked example of
    # colour-science's documentation, here by exact minimisation over 360–830 nm, to which luxpy's ohno2014,
    # robertson2023, li2016, li2022 and zhang2019 agree at 6507.5 K, 0.0032237.
    cct_k, duv = uv60_to_white([0.1978, 0.3122])
    assert float(cct_k) == pytest.approx(6507.5024, abs=0.001)
    assert float(duv) == pytest.approx(0.00322368, abs=1e-8)


def test_robertson_worked_point() -> None:
    # Robertson, JOSA 58:1528 (1968), the example of colour-science's documentation. His method says
    # 6500.0162 K, 0.0083333, which claims 0.1 mired; the exact answer is 6500.57 K, 0.0082828.
    cct_k, duv = uv60_to_white([0.193741375998230, 0.315221043940594])
    assert float(cct_k) == pytest.approx(6500.57, abs=0.01)
    assert float(duv) == pytest.approx(0.0082828, abs=1e-7)
    assert abs(1e6 / float(cct_k) - 1e6 / 6500.0162) < 0.1


@pytest.mark.parametrize(
    ("mired", "u", "v"),
    # Robertson 1968, rows of his table of iso-temperature lines (as carried by colour-science).
    [
        (100, 0.19032, 0.29326),
        (200, 0.21142, 0.32312),
        (300, 0.24010, 0.34308),
        (400, 0.27218, 0.35407),
        (600, 0.33724, 0.36051),
    ],
)
def test_robertson_table(mired: float, u: float, v: float) -> None:
    # His table predates the ITS-90, hence 2e-5 and not the rounding of the fifth digit.
    assert white_to_uv60(1e6 / mired) == pytest.approx([u, v], abs=2e-5)


@pytest.mark.parametrize(
    ("cct_k", "u", "v"),
    # Planckian table 5000–6000 K of colour-science's tests of Ohno (2014).
    [
        (5000, 0.211424442, 0.323115810),
        (5001, 0.211414166, 0.323105716),
        (6000, 0.203307932, 0.314117832),
    ],
)
def test_ohno_table(cct_k: float, u: float, v: float) -> None:
    assert white_to_uv60(cct_k) == pytest.approx([u, v], abs=1e-6)


@pytest.mark.parametrize(("x", "y", "mccamy_k"), [(0.31271, 0.32902, 6504.389), (0.44757, 0.40745, 2857.29)])
def test_mccamy_is_an_approximation_of_it(x: float, y: float, mccamy_k: float) -> None:
    # McCamy, Color Res. Appl. 17:142 (1992), coefficients and values verified with colour-science.
    n = (x - 0.3320) / (y - 0.1858)
    assert ((-449.0 * n + 3525.0) * n - 6823.3) * n + 5520.33 == pytest.approx(mccamy_k, abs=0.01)
    cct_k, _ = uv60_to_white(xy_to_uv60([x, y]))
    assert float(cct_k) == pytest.approx(mccamy_k, abs=2.0)


def test_the_duv_polynomial_is_an_approximation_of_it() -> None:
    # Ohno (2011, 2014): coefficients from memory, verified; good to 1.8e-5 for 2600–20000 K, |Duv| ≤ 0.02.
    cct_k, duv = np.meshgrid(np.geomspace(2600.0, 20000.0, 25), np.linspace(-0.02, 0.02, 9))
    u, v = np.moveaxis(white_to_uv60(cct_k, duv), -1, 0)
    distance = np.hypot(u - 0.292, v - 0.24)
    angle = np.arccos((u - 0.292) / distance)
    k = (-0.471106, 1.925865, -2.4243787, 1.5317403, -0.5179722, 0.0893944, -0.00616793)
    assert np.abs(distance - np.polynomial.polynomial.polyval(angle, k) - duv).max() < 2e-5


@LAWS
@given(cct_k=CCT, duv=DUV)
def test_the_inverse_returns_what_went_in(cct_k: float, duv: float) -> None:
    back_k, back_duv = uv60_to_white(white_to_uv60(cct_k, duv))
    assert float(back_k) == pytest.approx(cct_k, abs=1e-5)
    assert float(back_duv) == pytest.approx(duv, abs=1e-11)


@LAWS
@given(cct_k=st.floats(1000.0, 24000.0), step=st.floats(1e-3, 1000.0), duv=DUV)
def test_hotter_is_always_bluer(cct_k: float, step: float, duv: float) -> None:
    cooler, hotter = white_to_uv60([cct_k, cct_k + step], duv)
    back_k, _ = uv60_to_white(np.array([cooler, hotter]))
    assert back_k[0] < back_k[1]
    assert white_to_uv60(cct_k + step)[0] < white_to_uv60(cct_k)[0]


@LAWS
@given(cct_k=CCT, duv=DUV)
def test_duv_is_the_shortest_distance_to_the_locus(cct_k: float, duv: float) -> None:
    point = white_to_uv60(cct_k, duv)
    locus = white_to_uv60(np.geomspace(1000.0, 25000.0, 400))
    assert np.hypot(*(locus - point).T).min() >= abs(duv) - 1e-12
    assert np.hypot(*(white_to_uv60(cct_k) - point)) == pytest.approx(abs(duv), abs=1e-14)


@LAWS
@given(cct_k=CCT, duv=st.floats(1e-4, 0.05))
def test_plus_is_green(cct_k: float, duv: float) -> None:
    # ANSI C78.377: plus lies above the locus, towards green.
    assert white_to_uv60(cct_k, duv)[1] > white_to_uv60(cct_k)[1] > white_to_uv60(cct_k, -duv)[1]


def test_the_whole_range_at_once() -> None:
    cct_k, duv = np.meshgrid(np.geomspace(1000.0, 25000.0, 80), np.linspace(-0.05, 0.05, 21))
    back_k, back_duv = uv60_to_white(white_to_uv60(cct_k, duv))
    assert back_k.shape == back_duv.shape == cct_k.shape
    assert np.abs(back_k - cct_k).max() < 1e-5
    assert np.abs(back_duv - duv).max() < 1e-11


def test_the_whole_range_against_luxpy(luxpy: ModuleType) -> None:
    cct_k, duv = (
        a.ravel() for a in np.meshgrid(np.geomspace(1010.0, 24900.0, 40), np.linspace(-0.05, 0.05, 11))
    )
    xyz = xyy_to_xyz(uv60_to_xy(white_to_uv60(cct_k, duv)), 100.0)
    theirs_k, theirs_duv = luxpy.xyz_to_cct(xyz, cieobs="1931_2", mode="robertson2023", out="cct,duv")
    assert np.abs(theirs_k.ravel() - cct_k).max() < 1e-4
    assert np.abs(theirs_duv.ravel() - duv).max() < 5e-6


def test_the_whole_range_against_colour_science(colour_science: ModuleType) -> None:
    cct_k, duv = (
        a.ravel() for a in np.meshgrid(np.geomspace(1000.5, 19900, 25), np.linspace(-0.03, 0.03, 7))
    )
    uv = white_to_uv60(cct_k, duv)
    cmfs = colour_science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    theirs = colour_science.temperature.uv_to_CCT_Ohno2013(uv, cmfs)
    # Ohno's table method is itself within 0.05 K and 5e-8 of exact minimisation there.
    assert np.abs(theirs[:, 0] - cct_k).max() < 0.06
    assert np.abs(theirs[:, 1] - duv).max() < 1e-7


def test_the_locus_against_colour_science(colour_science: ModuleType) -> None:
    cmfs = colour_science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    for cct_k in (1000.0, 2856.0, 5600.0, 25000.0):
        theirs = colour_science.temperature.CCT_to_uv_Planck1900(cct_k, cmfs)
        assert white_to_uv60(cct_k) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize(
    ("cct_k", "duv", "said"),
    [
        (999.0, 0.0, "a white starts at 1000 K, got 999 K"),
        (25001.0, 0.0, "a white ends at 25000 K, got 25001 K"),
        (5600.0, 0.051, r"Duv of a white stays within ±0.05, got \+0.051"),
        (5600.0, -0.06, r"Duv of a white stays within ±0.05, got -0.06"),
        (float("nan"), 0.0, "a white starts at 1000 K, got nan K"),
        (5600.0, float("nan"), "Duv of a white stays within"),
    ],
)
def test_a_bound_that_is_passed_is_named(cct_k: float, duv: float, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        white_to_uv60(cct_k, duv)
    with pytest.raises(ValueError, match=said):
        white_to_uv60([3200.0, cct_k], [0.0, duv])


@pytest.mark.parametrize(
    ("uv", "said"),
    [
        ((0.47, 0.35), "beyond the 1000 K end"),
        ((0.62, 0.34), "1000 K"),
        ((0.180, 0.262), "25000 K"),
        ((0.12, 0.20), "25000 K"),
        ((0.1978, 0.45), "±0.05"),
        ((0.24, 0.27), "±0.05"),
        ((float("nan"), 0.3), "finite"),
        ((float("inf"), 0.3), "finite"),
    ],
)
def test_a_colour_that_is_no_white_is_refused(uv: tuple[float, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        uv60_to_white(uv)
    with pytest.raises(ValueError, match=said):
        uv60_to_white([(0.1978, 0.3122), uv])


def test_the_bounds_themselves_are_whites() -> None:
    cct_k = np.array([1000.0, 1000.0, 25000.0, 25000.0])
    duv = np.array([-0.05, 0.05, -0.05, 0.05])
    back_k, back_duv = uv60_to_white(white_to_uv60(cct_k, duv))
    assert back_k == pytest.approx(cct_k, abs=1e-5)
    assert back_duv == pytest.approx(duv, abs=1e-11)
    assert back_k.min() >= 1000.0
    assert back_k.max() <= 25000.0
    assert np.abs(back_duv).max() <= 0.05


def test_a_path_with_exact_derivatives() -> None:
    mired = np.linspace(40.0, 1000.0, 200)
    step = 1e-2
    before, after = curve(mired - step)[0], curve(mired + step)[0]
    point, first, second = curve(mired)
    assert np.abs((after - before) / (2 * step) - first).max() < 1e-10
    assert np.abs((after - 2 * point + before) / step**2 - second).max() < 1e-9


def test_no_points_give_no_whites() -> None:
    assert white_to_uv60(np.empty(0)).shape == (0, 2)
    cct_k, duv = uv60_to_white(np.empty((0, 2)))
    assert cct_k.shape == duv.shape == (0,)
