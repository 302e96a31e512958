"""The table of the 44 Hz loop against direct integration, and what it does outside the whites."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from onecrew.colour import locus_table
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.locus_table import nearest_white_fast, uv76_to_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import uv60_to_uv76, uv60_to_xy, uv76_to_uv60, xyy_to_xyz

LAWS = settings(max_examples=60, deadline=None)
MIRED = st.floats(40.0, 1000.0)
DUV = st.floats(-0.05, 0.05)
ANYTHING = st.floats(allow_nan=True, allow_infinity=True)


def whites(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Whites all over the range, its corners and the crowded hot end included."""
    rng = np.random.default_rng(7)
    mired = np.concatenate((rng.uniform(40, 1000, count), rng.uniform(40, 60, count), [40, 40, 1000, 1000]))
    duv = np.concatenate((rng.uniform(-0.05, 0.05, 2 * count), [-0.05, 0.05, -0.05, 0.05]))
    return mired, duv


def test_forward_is_the_integral_within_a_hundredth_of_what_is_promised() -> None:
    mired, duv = whites(4000)
    exact = uv60_to_uv76(white_to_uv60(1e6 / mired, duv))
    # 5e-6 is promised; a smallest step of 16 bits in a bicolour lamp moves u′ by about 2e-6.
    assert np.abs(white_to_uv76_fast(mired, duv) - exact).max() < 5e-8


def test_inverse_is_exact_within_a_fiftieth_of_what_is_promised() -> None:
    mired, duv = whites(4000)
    back, back_duv = uv76_to_white_fast(uv60_to_uv76(white_to_uv60(1e6 / mired, duv)))
    assert np.abs(1e6 / back - 1e6 / mired).max() < 0.001  # 0.05 K is promised
    assert np.abs(back_duv - duv).max() < 1e-9


def test_the_whole_range_against_luxpy(luxpy: ModuleType) -> None:
    mired, duv = (a.ravel() for a in np.meshgrid(np.linspace(40.1, 990.0, 60), np.linspace(-0.05, 0.05, 9)))
    uv76 = white_to_uv76_fast(mired, duv)
    xyz = xyy_to_xyz(uv60_to_xy(uv76_to_uv60(uv76)), 100.0)
    theirs_k, theirs_duv = luxpy.xyz_to_cct(xyz, cieobs="1931_2", mode="robertson2023", out="cct,duv")
    assert np.abs(theirs_k.ravel() - 1e6 / mired).max() < 0.05
    assert np.abs(theirs_duv.ravel() - duv).max() < 5e-6


@LAWS
@given(mired=MIRED, duv=DUV)
def test_forward_and_inverse_undo_each_other(mired: float, duv: float) -> None:
    back, back_duv = uv76_to_white_fast(white_to_uv76_fast(mired, duv))
    # In kelvin 2e-7 mired is 1e-4 K at the hot end.
    assert float(back) == pytest.approx(mired, abs=2e-7)
    assert float(back_duv) == pytest.approx(duv, abs=1e-11)


@LAWS
@given(mired=st.floats(40.0, 990.0), step=st.floats(1e-6, 10.0), duv=DUV)
def test_warmer_stays_warmer(mired: float, step: float, duv: float) -> None:
    cool, warm = white_to_uv76_fast([mired, mired + step], 0.0)
    assert cool[0] < warm[0]
    back, _ = uv76_to_white_fast(white_to_uv76_fast([mired, mired + step], duv))
    assert back[0] < back[1]


@LAWS
@given(mired=MIRED, duv=DUV)
def test_no_step_where_two_cubics_meet(mired: float, duv: float) -> None:
    around = white_to_uv76_fast(np.round(mired) + np.array([-1e-9, 0.0, 1e-9]), duv)
    assert np.abs(np.diff(around, axis=0)).max() < 1e-11


@LAWS
@given(mired=ANYTHING, duv=ANYTHING)
@example(mired=float("nan"), duv=0.01)
@example(mired=200.0, duv=float("nan"))
@example(mired=float("-inf"), duv=float("inf"))
def test_any_number_gives_a_white(mired: float, duv: float) -> None:
    uv76 = white_to_uv76_fast(mired, duv)
    assert np.isfinite(uv76).all()
    low, high = (40.0, 1000.0), (-0.05, 0.05)
    kept = [low[0] if np.isnan(mired) else min(max(mired, low[0]), low[1])]
    kept_duv = [high[0] if np.isnan(duv) else min(max(duv, high[0]), high[1])]
    assert uv76 == pytest.approx(white_to_uv76_fast(kept, kept_duv)[0])


@LAWS
@given(u=ANYTHING, v=ANYTHING)
@example(u=float("nan"), v=0.5)
@example(u=0.2, v=float("nan"))
@example(u=float("inf"), v=float("-inf"))
def test_any_colour_reads_as_a_white(u: float, v: float) -> None:
    mired, duv = uv76_to_white_fast([u, v])
    assert 40.0 <= mired <= 1000.0
    assert -0.05 <= duv <= 0.05


def test_colours_beyond_the_ends_read_as_the_ends() -> None:
    # A saturated red lies past 1000 K, a blue past 25000 K.
    mired, _ = uv76_to_white_fast([(0.55, 0.52), (0.15, 0.30)])
    assert mired.tolist() == [1000.0, 40.0]


def test_near_the_locus_the_nearest_white_is_the_white_itself() -> None:
    mired, duv = whites(2000)
    uv76 = white_to_uv76_fast(mired, duv)
    for ours, plain in zip(nearest_white_fast(uv76), uv76_to_white_fast(uv76), strict=True):
        assert np.array_equal(ours, plain)


def test_the_nearest_white_does_not_leap_among_purples() -> None:
    places = np.linspace(0.0, 1.0, 20001)[:, None]
    for v76 in (0.20, 0.25, 0.30, 0.35):
        across = np.array([0.15, v76]) + places * (0.30, 0.0)
        steady, leaping = (
            np.abs(np.diff(way(across)[0])).max() for way in (nearest_white_fast, uv76_to_white_fast)
        )
        assert steady < 2.0
        assert leaping > 50.0


def test_no_white_is_much_nearer_than_the_nearest() -> None:
    locus = white_to_uv76_fast(np.linspace(40.0, 1000.0, 2000), 0.0) / (1.0, 1.5)
    rng = np.random.default_rng(3)
    colours = rng.uniform((0.02, 0.05), (0.62, 0.58), (1500, 2))
    mired, _ = nearest_white_fast(colours)
    ours = np.hypot(*((white_to_uv76_fast(mired, 0.0) - colours) / (1.0, 1.5)).T)
    points = colours / (1.0, 1.5)
    best = np.array([np.hypot(*(locus - point).T).min() for point in points])
    # The last per cents are of purples next to the line of purples, as near to one white as to another.
    assert (ours <= 1.1 * best + 1e-6).all()
    assert np.quantile(ours / np.maximum(best, 1e-3), 0.9) < 1.01


def test_scalars_and_leading_dimensions() -> None:
    assert white_to_uv76_fast(200.0, 0.0).shape == (2,)
    assert white_to_uv76_fast(np.full((3, 1), 200.0), np.zeros(4)).shape == (3, 4, 2)
    mired, duv = uv76_to_white_fast(np.full((3, 4, 2), 0.4))
    assert mired.shape == duv.shape == (3, 4)
    assert white_to_uv76_fast(np.empty(0), np.empty(0)).shape == (0, 2)
    with pytest.raises(ValueError, match=r"shape \(\.\.\., 2\)"):
        uv76_to_white_fast([0.2, 0.3, 0.4])


def test_blocks_do_not_show() -> None:
    mired, duv = whites(3000)
    together = white_to_uv76_fast(mired, duv)
    apart = np.array([white_to_uv76_fast(m, d) for m, d in zip(mired[::97], duv[::97], strict=True)])
    assert np.array_equal(together[::97], apart)


def test_the_table_is_small() -> None:
    held = locus_table._table()
    assert held.cubics.nbytes + held.lines.nbytes < 64 * 1024
