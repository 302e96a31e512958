"""Dimming laws against published points, and the rounding of slot values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.documents.profile import Channel, Emitter, Mode, Profile
from controller.output.dimming import (
    darkest_step,
    law_of,
    level_of,
    level_of_slots,
    output_of,
    slots_of_level,
    slots_of_output,
    slots_of_share,
)

TABLE = ((0.0, 0.0), (0.1, 0.004), (0.4, 0.1), (0.8, 0.7), (1.0, 1.0))
LAWS = ("linear", "square", "log", TABLE)
FULL = {8: 255, 16: 65535}
laws = st.sampled_from(LAWS)
shares = st.floats(0.0, 1.0)
widths = st.sampled_from([8, 16])


# Points of the logarithmic curve of IEC 62386-102 as driver makers publish them: n → percent. The first six
# were read in makers' texts; the rest follow from the standard's formula (formula from memory).
PUBLISHED = {1: 0.1, 10: 0.128, 127: 3.12, 229: 50.53, 244: 76.11, 254: 100.0}
FROM_FORMULA = {2: 0.102768, 43: 0.3148, 85: 0.9909, 144: 4.9619, 170: 10.0914, 195: 19.9708, 220: 39.5219}


@pytest.mark.parametrize(("n", "percent"), [*PUBLISHED.items(), *FROM_FORMULA.items()])
def test_the_log_law_passes_the_points_of_iec_62386_102(n: int, percent: float) -> None:
    level = (n - 1) / 253 or 1e-4  # n = 1 is where the curve begins; level 0 itself is off
    assert 100.0 * float(output_of(level, "log")) == pytest.approx(percent, rel=2e-3)


# "59 levels between 20 % and 100 %" on that curve (a driver maker's text), and the n next to round percents.
@pytest.mark.parametrize(
    ("percent", "n"),
    [(0.5, 60), (1, 85), (3, 126), (5, 144), (10, 170), (20, 254 - 59), (50, 229), (90, 250)],
)
def test_the_inverse_log_law_finds_the_nearest_n(percent: float, n: int) -> None:
    assert round(1 + 253 * float(level_of(percent / 100.0, "log"))) == n


# The curve at tenths of its range (IEC 62386-102 formula at n = 1 + 253 x) and the square law as the IESNA
# Lighting Handbook (9th edition) states it: measured light is the square of the perceived.
@pytest.mark.parametrize(
    ("x", "square", "log"),
    [
        (0.1, 0.01, 0.001995),
        (0.2, 0.04, 0.003981),
        (0.25, 0.0625, 0.005623),
        (0.3, 0.09, 0.007943),
        (0.5, 0.25, 0.031623),
        (0.7, 0.49, 0.125893),
        (0.9, 0.81, 0.501187),
    ],
)
def test_square_and_log_at_tenths(x: float, square: float, log: float) -> None:
    assert float(output_of(x, "square")) == pytest.approx(square, rel=1e-9)
    assert float(output_of(x, "log")) == pytest.approx(log, rel=5e-4)


@pytest.mark.parametrize(("measured", "perceived"), [(0.10, 0.316), (0.01, 0.10), (0.25, 0.50)])
def test_square_law_points_of_the_iesna_handbook(measured: float, perceived: float) -> None:
    assert float(level_of(measured, "square")) == pytest.approx(perceived, abs=5e-4)


# By convention v16 = round(65535 p), value = 256 coarse + fine (GDTF 1.2 lists the most significant first):
# 0.5 → 32768 (128, 0), 1/3 → 21845 (85, 85), 1/4 → 16384 (64, 0).
@pytest.mark.parametrize(
    ("share", "value"), [(0.5, 32768), (1 / 3, 21845), (0.25, 16384), (0, 0), (1, 65535)]
)
def test_sixteen_bit_values(share: float, value: int) -> None:
    assert int(slots_of_share(share, 16)) == value


def test_halves_round_up_not_to_even() -> None:
    shares = [0.5 / 255, 1.5 / 255, 2.5 / 255, 126.5 / 255, 0.5]
    assert slots_of_share(shares, 8).tolist() == [1, 2, 3, 127, 128]
    assert slots_of_share(np.nextafter(0.5, 0.0), 16) == 32768


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("bits", [8, 16])
def test_both_ends_are_exact(law: object, bits: int) -> None:
    assert output_of([0.0, 1.0], law).tolist() == [0.0, 1.0]
    assert level_of([0.0, 1.0], law).tolist() == [0.0, 1.0]
    assert slots_of_level([0.0, 1.0], law, bits).tolist() == [0, FULL[bits]]
    assert slots_of_output([0.0, 1.0], law, bits).tolist() == [0, FULL[bits]]


@given(laws, shares)
def test_level_survives_the_law_and_back(law: object, level: float) -> None:
    assert float(level_of(output_of(level, law), law)) == pytest.approx(level, abs=1e-12)


@given(laws, st.integers(0, 65535), widths)
def test_every_slot_value_survives(law: object, value: int, bits: int) -> None:
    value = min(value, FULL[bits])
    level = level_of_slots(value, bits)
    assert int(slots_of_level(level, law, bits)) == value
    assert int(slots_of_output(output_of(level, law), law, bits)) == value


@given(laws, shares, shares, widths)
def test_all_ways_only_rise(law: object, one: float, other: float, bits: int) -> None:
    low, high = sorted((one, other))
    for way in (
        lambda x: output_of(x, law),
        lambda x: level_of(x, law),
        lambda x: slots_of_level(x, law, bits),
        lambda x: slots_of_output(x, law, bits),
    ):
        assert way(low) <= way(high)
    if high - low > 1e-9:
        assert output_of(low, law) < output_of(high, law)


@given(laws, shares, widths)
def test_a_slot_is_the_nearest_one(law: object, level: float, bits: int) -> None:
    shown = float(level_of_slots(slots_of_level(level, law, bits), bits))
    reach = 1.0 if law == "log" and shown * FULL[bits] == 1.0 else 0.5
    assert abs(shown - level) <= (reach + 1e-6) / FULL[bits]


@given(laws, shares, widths)
def test_nothing_from_half_the_darkest_step_on_goes_dark(law: object, level: float, bits: int) -> None:
    darkest_level = 1.0 / FULL[bits]
    output = float(output_of(level, law))
    if level >= 0.5 * darkest_level or output >= 0.5 * float(output_of(darkest_level, law)):
        assert int(slots_of_level(level, law, bits)) > 0
        if output >= 0.5 * float(output_of(darkest_level, law)):
            assert int(slots_of_output(output, law, bits)) > 0
    else:
        assert int(slots_of_level(level, law, bits)) == 0


@pytest.mark.parametrize("bits", [8, 16])
def test_any_level_above_zero_shows_under_the_log_law(bits: int) -> None:
    assert int(slots_of_level(0.0, "log", bits)) == 0
    assert int(slots_of_level(1e-4, "log", bits)) >= 1
    assert float(output_of(1e-4, "log")) == pytest.approx(0.001, rel=1e-3)


def test_two_percent_is_two_percent() -> None:
    assert int(slots_of_level(0.02, "linear", 8)) == 5
    assert int(slots_of_level(0.02, "linear", 16)) == 1311  # 1310.7
    assert float(level_of_slots(1311, 16)) == pytest.approx(0.02, abs=1e-5)


def test_what_is_not_a_number_goes_dark_and_the_rest_is_clamped() -> None:
    levels = np.array([np.nan, -1.0, 2.0, np.inf])
    for law in LAWS:
        assert slots_of_level(levels, law, 16).tolist() == [0, 0, 65535, 65535]


def test_an_unknown_law_is_named() -> None:
    with pytest.raises(ValueError, match="'steps'"):
        output_of(0.5, "steps")
    with pytest.raises(ValueError, match="'steps'"):
        level_of(0.5, "steps")


def test_darkest_step_of_a_mode() -> None:
    profile = Profile(
        id="two",
        name="Two",
        dimming="square",
        emitters={"warm": Emitter(xy=(0.46, 0.41)), "cool": Emitter(xy=(0.31, 0.32))},
        modes=(
            Mode(name="plain", channels=(Channel(emitter="warm", bits=16), Channel(emitter="cool"))),
            Mode(name="dimmed", channels=(Channel(dimmer=True), Channel(emitter="warm", bits=16))),
        ),
    )
    assert law_of(profile) == "square"
    plain, dimmed = (darkest_step(profile, mode) for mode in profile.modes)
    assert (plain.level, plain.output) == pytest.approx((1 / 65535, 1 / 65535**2))
    assert (dimmed.level, dimmed.output) == pytest.approx((1 / 255, 1 / 255**2))
    # Square law: an emitter driven to a quarter at most needs twice the level for its first step.
    faint = darkest_step(profile, profile.modes[0], strongest=0.25)
    assert (faint.level, faint.output) == pytest.approx((2 / 65535, 4 / 65535**2))
