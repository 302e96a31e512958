"""Calibration: what was read is exact, what lies between is smooth and monotone, what lies beyond is held."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from controller.documents.show import Reading
from controller.output.calibration import DUV_PER_MIRED, Calibration, share_corrected


def reading(
    asked_k: float,
    measured_k: float,
    measured_duv: float = 0.0,
    asked_duv: float = 0.0,
    light: float = 1000.0,
) -> Reading:
    return Reading(
        asked_cct_k=asked_k,
        asked_duv=asked_duv,
        measured_cct_k=measured_k,
        measured_duv=measured_duv,
        light=light,
    )


PANEL = [
    reading(2700, 2640, 0.002, light=800),
    reading(3200, 3150, 0.001, light=900),
    reading(4300, 4350, -0.001, light=1000),
    reading(5600, 5900, -0.003, light=1100),
    reading(6500, 7000, -0.004, light=1050),
]
"""A panel whose whites spread too wide and bend, as a meter might read it (invented)."""


def asked(table: list[Reading], cct_k: float, duv: float = 0.0) -> tuple[float, float]:
    mired, out = Calibration([table]).correct([1e6 / cct_k], [duv])
    return 1e6 / float(mired[0]), float(out[0])


@pytest.mark.parametrize("row", PANEL)
def test_what_was_read_is_asked_for_exactly(row: Reading) -> None:
    cct_k, duv = asked(PANEL, row.measured_cct_k, row.measured_duv)
    assert cct_k == pytest.approx(row.asked_cct_k, abs=1e-6)
    assert duv == pytest.approx(row.asked_duv, abs=1e-9)


def test_between_two_readings_the_correction_lies_between_theirs() -> None:
    """3150 K is asked as 3200 (−4.96 mired), 4350 K as 4300 (+2.67 mired)."""
    for cct_k in np.linspace(3200, 4300, 12):
        shift = 1e6 / asked(PANEL, cct_k)[0] - 1e6 / cct_k
        assert -4.97 <= shift <= 2.68


def test_one_reading_shifts_every_white_alike() -> None:
    table = [reading(3200, 3100, 0.002)]
    shift = 1e6 / 3200 - 1e6 / 3100
    for cct_k in (2000.0, 3100.0, 8000.0):
        to_k, duv = asked(table, cct_k)
        assert 1e6 / to_k - 1e6 / cct_k == pytest.approx(shift)
        assert duv == pytest.approx(-0.002)


def test_readings_that_agree_change_nothing() -> None:
    table = [reading(k, k) for k in (2800, 3600, 5600)]
    for cct_k in (1500.0, 3000.0, 4321.0, 9000.0):
        assert asked(table, cct_k) == pytest.approx((cct_k, 0.0))


@pytest.mark.parametrize(("end_k", "beyond_k"), [(2640, 1200), (7000, 24000)])
def test_beyond_the_ends_the_correction_is_followed_one_step_and_then_held(
    end_k: float, beyond_k: float
) -> None:
    """The step of the table at its warm end is 2640 to 3150 K, 61.3 mired; at its cool end 26.6."""
    step = 1e6 / 2640 - 1e6 / 3150 if end_k == 2640 else -(1e6 / 5900 - 1e6 / 7000)
    last_k = 1e6 / (1e6 / end_k + step)
    shifts = [1e6 / asked(PANEL, k)[0] - 1e6 / k for k in (end_k, last_k, (last_k + beyond_k) / 2, beyond_k)]
    assert shifts[1] == pytest.approx(shifts[2]) == pytest.approx(shifts[3])
    assert abs(shifts[1] - shifts[0]) < 3.0


def test_beyond_tells_how_far_past_the_readings_a_white_is() -> None:
    calibration = Calibration([PANEL] * 3)
    past = calibration.beyond([1e6 / 2000, 1e6 / 4000, 1e6 / 10000])
    assert past == pytest.approx([500.0 - 1e6 / 2640, 0.0, 100.0 - 1e6 / 7000])


def test_readings_closer_than_a_meter_can_tell_count_as_one() -> None:
    twice = [reading(3200, 3150), reading(3210, 3150), reading(5600, 5700)]
    assert asked(twice, 3150)[0] == pytest.approx(1e6 / ((1e6 / 3200 + 1e6 / 3210) / 2))


def test_readings_off_the_locus_are_met_as_well() -> None:
    table = [*PANEL, reading(4300, 4400, 0.011, asked_duv=0.01), reading(4300, 4250, -0.012, asked_duv=-0.01)]
    for row in table:
        cct_k, duv = asked(table, row.measured_cct_k, row.measured_duv)
        assert cct_k == pytest.approx(row.asked_cct_k, abs=1e-6)
        assert duv == pytest.approx(row.asked_duv, abs=1e-9)


spacings = st.lists(st.floats(8.0, 80.0), min_size=1, max_size=5)


@settings(max_examples=60)
@given(spacings, st.data())
def test_warmer_wanted_is_warmer_asked(gaps: list[float], data: st.DataObject) -> None:
    """For a lamp whose scale is stretched or squeezed by up to a factor of two anywhere."""
    slopes = data.draw(st.lists(st.floats(0.5, 2.0), min_size=len(gaps), max_size=len(gaps)))
    measured = 130.0 + np.concatenate([[0.0], np.cumsum(gaps)])
    told = (
        130.0
        + data.draw(st.floats(-20.0, 20.0))
        + np.concatenate([[0.0], np.cumsum(np.array(gaps) * slopes)])
    )
    assume(told.max() < 950.0)
    table = [reading(1e6 / a, 1e6 / m) for a, m in zip(told, measured, strict=True)]
    wanted = np.linspace(100.0, 600.0, 101)
    ask, duv = Calibration([table] * 101).correct(wanted, np.zeros(101))
    assert (np.diff(ask) > 0.0).all()
    assert np.abs(duv).max() < 1e-9
    assert np.abs(ask - wanted).max() <= np.abs(told - measured).max() + 2.0 * max(gaps)


white_points = st.tuples(st.floats(110.0, 450.0), st.floats(-0.015, 0.015))


@settings(max_examples=60)
@given(st.lists(white_points, min_size=1, max_size=6), st.data())
def test_the_meter_reads_what_was_wanted(points: list[tuple[float, float]], data: st.DataObject) -> None:
    """``measured`` undoes ``correct``, for readings that are off by no more than lamps are."""
    table = []
    for mired, duv in points:
        apart = [np.hypot(mired - m, (duv - d) / DUV_PER_MIRED) for m, d in points if (m, d) != (mired, duv)]
        reach = min(8.0, 0.2 * min(apart, default=40.0))
        off = data.draw(st.tuples(st.floats(-reach, reach), st.floats(-reach, reach)))
        table.append(reading(1e6 / (mired + off[0]), 1e6 / mired, duv, duv + off[1] * DUV_PER_MIRED))
    wanted_mired, wanted_duv = np.linspace(120.0, 420.0, 30), np.linspace(-0.01, 0.01, 30)
    calibration = Calibration([table] * 30)
    mired, duv = calibration.measured(*calibration.correct(wanted_mired, wanted_duv))
    assert mired == pytest.approx(wanted_mired, abs=0.05)
    assert duv == pytest.approx(wanted_duv, abs=2e-5)


def test_light_is_turned_down_to_the_weakest_reading() -> None:
    calibration = Calibration([PANEL] * 5)
    mired = np.array([1e6 / row.measured_cct_k for row in PANEL])
    duv = np.array([row.measured_duv for row in PANEL])
    light = np.array([row.light for row in PANEL])
    assert calibration.to_the_weakest(mired, duv) == pytest.approx(800.0 / light)


def test_light_is_judged_against_what_the_profile_promises() -> None:
    promised = [0.4, 0.5, 0.6, 0.5, 0.4]
    calibration = Calibration([PANEL] * 5, [promised] * 5)
    mired = np.array([1e6 / row.measured_cct_k for row in PANEL])
    duv = np.array([row.measured_duv for row in PANEL])
    ratio = np.array([row.light for row in PANEL]) / promised
    assert calibration.to_the_weakest(mired, duv) == pytest.approx(ratio.min() / ratio)


def test_fixtures_with_tables_of_different_length_do_not_mix() -> None:
    short = [reading(3200, 3100)]
    both = Calibration([PANEL, short]).correct([1e6 / 4000, 1e6 / 4000], [0.0, 0.0])[0]
    assert 1e6 / both[0] == pytest.approx(asked(PANEL, 4000)[0])
    assert 1e6 / both[1] == pytest.approx(asked(short, 4000)[0])


def test_whatever_the_readings_the_answer_is_a_white() -> None:
    wild = [reading(1000, 25000), reading(25000, 1000, 0.05, -0.05), reading(3000, 3001, -0.05, 0.05)]
    mired, duv = Calibration([wild] * 50).correct(np.linspace(40, 1000, 50), np.linspace(-0.05, 0.05, 50))
    assert mired.min() >= 40.0 and mired.max() <= 1000.0
    assert np.abs(duv).max() <= 0.05


def test_colours_far_from_white_are_left_alone() -> None:
    assert share_corrected([0.0, 0.02, 0.035, 0.05, -0.06], False) == pytest.approx([1, 1, 0.5, 0, 0])
    assert share_corrected([0.0, 0.045], True).tolist() == [1.0, 1.0]
