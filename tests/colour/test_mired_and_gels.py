"""Mired arithmetic, and correction gels on it."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.colour.gels import GELS, Gel
from onecrew.colour.mired import shift_between, shifted, to_kelvin, to_mired


def gel(name: str) -> Gel:
    """The gel of that name."""
    return next(one for one in GELS if one.name == name)


@pytest.mark.parametrize(
    ("cct_k", "mired"),
    # 10⁶/CCT, arithmetic.
    [
        (2700, 370.37),
        (3200, 312.5),
        (4300, 232.56),
        (5500, 181.82),
        (5600, 178.57),
        (6500, 153.85),
        (10000, 100.0),
    ],
)
def test_mired_of_film_whites(cct_k: float, mired: float) -> None:
    assert float(to_mired(cct_k)) == pytest.approx(mired, abs=0.005)
    assert float(to_kelvin(mired)) == pytest.approx(cct_k, rel=3e-5)


def test_mired_against_colour_science(colour_science: ModuleType) -> None:
    assert float(to_mired(6500.0)) == pytest.approx(float(colour_science.temperature.CCT_to_mired(6500.0)))


def test_a_hundred_kelvin_is_worth_more_when_warm() -> None:
    assert float(shift_between(3200.0, 3100.0)) == pytest.approx(10.08, abs=0.01)
    assert float(shift_between(3300.0, 3200.0)) == pytest.approx(9.47, abs=0.01)
    assert float(shift_between(6600.0, 6500.0)) == pytest.approx(2.33, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(cct_k=st.floats(1000.0, 25000.0), other_k=st.floats(1000.0, 25000.0))
def test_a_shift_leads_there_and_back(cct_k: float, other_k: float) -> None:
    shift = shift_between(cct_k, other_k)
    assert float(shifted(cct_k, shift)) == pytest.approx(other_k, rel=1e-9)
    assert float(shift_between(other_k, cct_k)) == pytest.approx(-float(shift))


@pytest.mark.parametrize("bad", [0.0, -5.0, float("nan")])
def test_no_mired_without_temperature(bad: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        to_mired([3200.0, bad])
    with pytest.raises(ValueError, match="must be above 0"):
        to_kelvin(bad)
    with pytest.raises(ValueError, match="must be above 0"):
        shifted(10000.0, -100.0)


@pytest.mark.parametrize(
    ("name", "from_k", "to_k"),
    # Swatch book of LEE Filters, stated conversions of 204, 205, 206, 201, 202, 203 (read second-hand) and of
    # 223, 218 (from memory). Its −78 for 202 does not match its own 3200 → 4300, which is −79.9.
    [
        ("full CTO", 6500, 3200),
        ("half CTO", 6500, 3800),
        ("quarter CTO", 6500, 4600),
        ("eighth CTO", 6500, 5550),
        ("full CTB", 3200, 5700),
        ("half CTB", 3200, 4300),
        ("quarter CTB", 3200, 3600),
        ("eighth CTB", 3200, 3400),
    ],
)
def test_gels_do_what_their_maker_states(name: str, from_k: float, to_k: float) -> None:
    assert gel(name).shift_mired == pytest.approx(float(shift_between(from_k, to_k)), abs=2.0)
    got_k, duv = gel(name).through(from_k, 0.002)
    assert 1e6 / got_k == pytest.approx(1e6 / to_k, abs=2.0)
    assert duv == 0.002


@pytest.mark.parametrize(
    ("name", "stops"),
    # Log2 of the transmissions published in the same swatch book.
    [("full CTO", 0.852), ("half CTO", 0.498), ("full CTB", 1.556), ("half minus green", 0.474)],
)
def test_light_lost(name: str, stops: float) -> None:
    assert gel(name).stops == pytest.approx(stops, abs=0.001)
    assert gel("full plus green").stops is None


@pytest.mark.parametrize(
    ("cc", "duv_5600", "duv_3200"),
    # Gaussian absorber 545 ± 45 nm on Planckian light, computed with numpy.
    [(5, -0.0054, -0.0040), (10, -0.0109, -0.0079), (20, -0.0219, -0.0153), (30, -0.0328, -0.0221)],
)
def test_magenta_steps(cc: float, duv_5600: float, duv_3200: float) -> None:
    full = gel("full minus green")
    assert full.cc_green == -30.0
    assert full.duv_shift(5600.0) * cc / 30.0 == pytest.approx(duv_5600, abs=2e-4)
    assert full.duv_shift(3200.0) * cc / 30.0 == pytest.approx(duv_3200, abs=5e-4)


def test_every_gel_is_found_by_its_name_and_moves_the_way_it_says() -> None:
    assert len({one.name for one in GELS}) == len(GELS)
    for one in GELS:
        assert gel(one.name) is one
        assert one.source
        cct_k, duv = one.through(4300.0)
        if "CTO" in one.name:
            assert cct_k < 4300.0
        if "CTB" in one.name:
            assert cct_k > 4300.0
        if "plus" in one.name:
            assert (cct_k, np.sign(duv)) == (pytest.approx(4300.0), 1)
        if "minus" in one.name:
            assert (cct_k, np.sign(duv)) == (pytest.approx(4300.0), -1)


def test_gels_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="full CTB on 10000 K passes the blue end"):
        gel("full CTB").through(10000.0)
