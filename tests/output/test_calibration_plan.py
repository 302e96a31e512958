"""Which whites are asked, how a lamp is asked past its readings, and what the readings are worth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.colour.locus import white_to_uv60
from controller.documents.light import White
from controller.documents.show import Fixture, Reading
from controller.errors import Mistake
from controller.output.calibration_plan import checked, doubts, question, reading, whites_to_ask
from controller.output.encoder import Encoder
from tests.fakes.profiles import all_profiles, kinds, rig, whites

PROFILES = all_profiles()
READINGS = (
    Reading(asked_cct_k=2800, measured_cct_k=2700, measured_duv=0.003, light=500),
    Reading(asked_cct_k=4000, measured_cct_k=4050, measured_duv=0.0, light=640),
    Reading(asked_cct_k=5600, measured_cct_k=5900, measured_duv=-0.002, light=700),
)
STEERED = [kind for kind in kinds() if kind[0] not in ("practical-dimmer", "spot-daylight", "red-lamp")]


def lamp(kind: tuple[str, str], **more: object) -> Fixture:
    [fixture] = rig(kind, **more)
    return fixture


def slots(fixture: Fixture, white: White) -> list[int]:
    row = Encoder([fixture], PROFILES).encode(whites([1.0], [white.cct_k], white.duv))[0]
    return [int(slot) for slot in row]


def asks(kind: tuple[str, str]) -> list[tuple[float, float]]:
    return [(white.cct_k, white.duv) for white in whites_to_ask(lamp(kind), PROFILES)]


def test_a_panel_is_asked_for_the_whites_of_film_within_its_range_and_for_two_tints() -> None:
    assert asks(("panel-cct-tint", "16-bit")) == [
        (2700, 0), (3200, 0), (4300, 0), (5600, 0), (6500, 0), (4300, -0.01), (4300, 0.01),
    ]  # fmt: skip
    assert asks(("bulb-rgbww", "white")) == [(2700, 0), (3200, 0), (4300, 0), (5600, 0), (6500, 0)]
    # A range whose ends are far from those whites has its ends asked as well.
    assert [cct_k for cct_k, _ in asks(("cool-first", "table"))] == [
        2000, 2700, 3200, 4300, 5600, 6500, 10000,
    ]  # fmt: skip


def test_a_bicolour_lamp_is_asked_for_what_lies_on_its_line() -> None:
    between = asks(("panel-bicolour", "16-bit"))
    assert len(between) == 5
    # The chord from 2700 to 6500 K runs below the locus (CIE 15, additive mixture).
    assert all(duv < -0.002 for _, duv in between[1:4])


@pytest.mark.parametrize("kind", STEERED)
def test_every_white_is_within_reach_and_none_comes_twice(kind: tuple[str, str]) -> None:
    fixture = lamp(kind)
    found = whites_to_ask(fixture, PROFILES)
    assert 2 <= len(found) <= 9
    assert len(set(found)) == len(found)
    for white in found:
        assert question(fixture, PROFILES, white).asked == pytest.approx(white) or white.duv != 0.0


@pytest.mark.parametrize(
    "kind", [("practical-dimmer", "8-bit"), ("spot-daylight", "16-bit"), ("red-lamp", "8-bit")]
)
def test_a_lamp_of_one_colour_has_nothing_to_calibrate(kind: tuple[str, str]) -> None:
    with pytest.raises(Mistake, match="nothing to calibrate"):
        whites_to_ask(lamp(kind), PROFILES)


@pytest.mark.parametrize("kind", STEERED)
@settings(max_examples=8)
@given(cct_k=st.floats(2750, 6400))
def test_a_lamp_with_readings_is_asked_as_if_it_had_none(kind: tuple[str, str], cct_k: float) -> None:
    bare, calibrated = lamp(kind), lamp(kind, calibration=READINGS)
    asked = question(calibrated, PROFILES, White(cct_k=cct_k))
    assert asked.told != asked.asked
    apart = np.array(slots(calibrated, asked.told)) - np.array(slots(bare, asked.asked))
    mode = PROFILES[kind[0]].mode(kind[1])
    assert mode is not None
    at = 0
    for channel in mode.channels * mode.segments:  # one step of rounding at most
        value = apart[at] if channel.bits == 8 else 256 * apart[at] + apart[at + 1]
        assert abs(value) <= 1, channel
        at += channel.width


def test_the_light_that_even_output_takes_is_added_to_the_reading() -> None:
    plain = lamp(("panel-rgbww", "16-bit"))
    even = lamp(("panel-rgbww", "16-bit"), even=True, calibration=READINGS)
    for cct_k in (2800, 4300, 6000):
        asked = question(even, PROFILES, White(cct_k=cct_k))
        assert 0.0 < asked.share < 1.0
        [full] = Encoder([plain], PROFILES).report(whites([1.0], [cct_k]), 5600.0)
        [seen] = Encoder([even], PROFILES).report(whites([1.0], [asked.told.cct_k], asked.told.duv), 5600.0)
        # A meter would read the lamp as it stands; the reading says what it gives without even output.
        taken = reading(asked, cct_k, 0.0, 1000.0 * seen.light)
        assert taken.light == pytest.approx(1000.0 * full.light, rel=1e-9)
    assert question(plain, PROFILES, White(cct_k=4300)).share == 1.0


def test_without_light_a_reading_has_what_the_profile_promises() -> None:
    asked = question(lamp(("panel-rgbww", "16-bit")), PROFILES, White(cct_k=4300))
    assert reading(asked, 4200, 0.001, None).light == asked.promised


def test_a_white_out_of_reach_becomes_the_nearest() -> None:
    panel = lamp(("panel-cct-tint", "16-bit"))
    assert question(panel, PROFILES, White(cct_k=2000)).asked == White(cct_k=2700)
    assert question(panel, PROFILES, White(cct_k=4300, duv=0.04)).asked == White(cct_k=4300, duv=0.02)
    with pytest.raises(Mistake, match="no white near 3000 K"):
        question(lamp(("red-lamp", "8-bit")), PROFILES, White(cct_k=3000))


def test_readings_that_cannot_be_undone_are_told() -> None:
    wild = (
        Reading(asked_cct_k=2700, measured_cct_k=6500, measured_duv=0.0, light=1),
        Reading(asked_cct_k=6500, measured_cct_k=2700, measured_duv=0.0, light=1),
    )
    with pytest.raises(Mistake, match="clear them first"):
        for cct_k in (2700, 3500, 4300, 5600):
            question(lamp(("panel-cct-tint", "16-bit"), calibration=wild), PROFILES, White(cct_k=cct_k))


# ── What readings are worth ─────────────────────────────────────────────────────────────────────────


def readings(*rows: tuple[float, float, float]) -> list[Reading]:
    return [
        Reading(asked_cct_k=asked, measured_cct_k=read, measured_duv=duv, light=1)
        for asked, read, duv in rows
    ]


def test_off_by_is_the_distance_in_cie_1976() -> None:
    [row] = checked(readings((3200, 3000, 0.004)))
    # CIE 1976 u′ = u, v′ = 1.5 v of the CIE 1960 points (CIE 15:2004).
    apart = (white_to_uv60(3200.0) - white_to_uv60(3000.0, 0.004)) * (1.0, 1.5)
    assert row.off_by == pytest.approx(np.hypot(*apart), abs=1e-7)
    assert row.left is None


def test_a_lamp_that_is_off_by_a_rule_is_foretold_by_the_others() -> None:
    """Every white 12 mired too warm and 0.003 too green: any two readings tell the third."""
    rows = checked(readings(*((k, 1e6 / (1e6 / k + 12), 0.003) for k in (2700, 3200, 4300, 5600, 6500))))
    assert min(row.off_by for row in rows) > 0.004
    assert max(row.left for row in rows if row.left is not None) < 1e-6
    assert doubts(rows) == []


def test_the_cross_check_does_not_know_the_reading_it_checks() -> None:
    even_errors = [(k, 1e6 / (1e6 / k + 5), 0.0) for k in (2700, 3200, 4300, 5600, 6500)]
    odd = [*even_errors[:2], (4300, 3900, 0.0), *even_errors[3:]]
    rows = checked(readings(*odd))
    # The others foretell 4300 K + 5 mired; it was read 23.9 mired off.
    assert rows[2].left is not None
    assert rows[2].left / rows[2].off_by == pytest.approx((23.85 - 5.0) / 23.85, rel=0.02)
    assert any("4300 K does not go with the others" in said for said in doubts(rows))


def test_whites_that_were_read_the_wrong_way_round_are_told() -> None:
    rows = checked(readings((2700, 3100, 0.0), (3200, 2700, 0.0), (5600, 5600, 0.0)))
    assert any("3200 K read no cooler than 2700 K" in said for said in doubts(rows))


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.floats(2000, 10000), st.floats(2000, 10000), st.floats(-0.03, 0.03)),
        min_size=1,
        max_size=7,
    )
)
def test_any_readings_are_checked_without_fail(rows: list[tuple[float, float, float]]) -> None:
    found = checked(readings(*rows))
    for row in found:
        assert np.isfinite(row.off_by) and row.off_by >= 0.0
        assert (row.left is None) == (len(rows) < 3)
        assert row.left is None or np.isfinite(row.left)
    assert all(said == said.strip() and "nan" not in said for said in doubts(found))
