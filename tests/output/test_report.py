"""What the report says of each lamp: its numbers, and its notes in sentences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.colour.locus import uv60_to_white, white_to_uv60
from controller.colour.spaces import xy_to_uv60, xy_to_uv76
from controller.documents.show import Reading
from controller.output.encoder import Encoder, FixtureReport
from controller.playback.frame import Frame
from tests.fakes.profiles import all_profiles, colours, kinds, rig, whites


def report(frame: Frame, profile: str, mode: str, wb_k: float = 5600.0, **more: object) -> FixtureReport:
    [one] = Encoder(rig((profile, mode), **more), all_profiles()).report(frame, wb_k)
    return one


def test_a_white_within_reach_is_told_as_it_was_asked() -> None:
    told = report(whites([0.15], [2800], 0.002), "spot-six", "16-bit")
    assert told.id == "lamp-0"
    assert (told.level, told.output, told.off_by, told.notes) == (0.15, 0.15, 0.0, ())
    assert told.white is not None
    assert (told.white.cct_k, told.white.duv) == (pytest.approx(2800.0), 0.002)
    assert set(told.drives) == {"red", "amber", "lime", "green", "cyan", "blue"}
    assert max(told.drives.values()) == pytest.approx(1.0)
    assert 0.0 < told.light < told.output


def test_output_goes_through_the_dimming_law() -> None:
    assert report(whites([0.5], [5602], 0.003), "spot-daylight", "8-bit").output == pytest.approx(
        0.031623, rel=1e-4
    )
    assert report(whites([0.5], [2800]), "bulb-rgbww", "8-bit").output == 0.25
    assert report(whites([0.4], [2701]), "practical-dimmer", "8-bit").output == pytest.approx(0.11)


def test_slots_are_those_that_go_out() -> None:
    lamps = rig(("tube-rgbww-8", "8-segment"), ("spot-six", "16-bit"), ("panel-cct-tint", "8-bit"))
    encoder = Encoder(lamps, all_profiles())
    frame = whites([0.2, 0.5, 1.0], [3000, 4000, 5000])
    row = encoder.encode(frame)[0].tolist()
    told = encoder.report(frame, 5600.0)
    assert [one.id for one in told] == [lamp.id for lamp in lamps]
    assert [len(one.slots) for one in told] == [40, 14, 3]
    assert row[:57] == [slot for one in told for slot in one.slots]


# The camera's eye: at its own white balance a lamp is white, a warmer one orange, a cooler one blue, as under
# any chromatic adaptation (common practice, no source).
def test_the_swatch_is_what_the_camera_sees() -> None:
    def shade(cct_k: float, wb_k: float) -> tuple[int, int]:
        swatch = report(whites([1.0], [cct_k]), "spot-six", "16-bit", wb_k).swatch
        return int(swatch[1:3], 16), int(swatch[5:7], 16)

    assert shade(3200, 3200) == (255, 255)
    assert shade(3200, 5600)[0] == 255 and shade(3200, 5600)[1] < 180
    assert shade(5600, 3200)[1] == 255 and shade(5600, 3200)[0] < 200


@pytest.mark.parametrize(
    ("frame", "note"),
    [
        (whites([1.0], [2000]), "asked 2000 K, goes no lower than 2700 K"),
        (whites([1.0], [9000]), "asked 9000 K, goes no higher than 6500 K"),
        (whites([1.0], [4000], 0.03), "asked tint +0.030, goes no greener than +0.020"),
        (whites([1.0], [4000], -0.03), "asked tint -0.030, goes no further to magenta than -0.020"),
    ],
)
def test_clamps_of_a_white_are_sentences(frame: Frame, note: str) -> None:
    told = report(frame, "panel-cct-tint", "16-bit")
    assert told.notes == (note,)
    assert told.white is not None and told.off_by > 0.0


def test_both_clamps_at_once_are_both_told() -> None:
    assert len(report(whites([1.0], [2000], 0.03), "panel-cct-tint", "8-bit").notes) == 2


def test_a_fixture_without_tint_says_so_and_gives_the_white() -> None:
    told = report(whites([1.0], [4000], 0.005), "bulb-rgbww", "white")
    assert told.notes == ("asked tint +0.005, has no tint channel",)
    assert told.white is not None and told.white.duv == 0.0 and told.white.cct_k == pytest.approx(4000.0)


def test_an_xy_on_a_white_fixture_takes_the_nearest_white() -> None:
    near = report(colours([1.0], [(0.38044, 0.37675)]), "panel-cct-tint", "16-bit")  # 4000 K
    assert near.notes == () and near.off_by < 1e-5
    far = report(colours([1.0], [(0.64, 0.33)]), "panel-cct-tint", "16-bit")
    assert far.white is not None and far.white.cct_k == pytest.approx(2700.0)
    assert far.notes[0].startswith("asked xy (0.6400, 0.3300), mixes whites only: the nearest is 2700 K")
    assert far.off_by == pytest.approx(np.hypot(*(xy_to_uv76(far.xy) - xy_to_uv76((0.64, 0.33)))))


def test_no_white_of_the_fixture_is_much_nearer_to_an_xy() -> None:
    """In CIE 1960, against a grid of all whites that the panel gives (2700–6500 K, Duv ±0.02)."""
    cct_k, duv = np.meshgrid(1e6 / np.linspace(1e6 / 6500, 1e6 / 2700, 60), np.linspace(-0.02, 0.02, 21))
    every = white_to_uv60(cct_k.ravel(), duv.ravel())
    xy = [(x, y) for x in np.linspace(0.12, 0.62, 11) for y in np.linspace(0.06, 0.36, 7)]
    lamps = rig(*[("panel-cct-tint", "16-bit")] * len(xy))
    told = Encoder(lamps, all_profiles()).report(colours([1.0] * len(xy), xy), 5600.0)
    for one, asked in zip(told, xy_to_uv60(xy), strict=True):
        best = np.hypot(*(every - asked).T).min()
        assert np.hypot(*(xy_to_uv60(one.xy) - asked)) <= 1.03 * best + 5e-4


def test_out_of_the_gamut_the_nearest_is_named_with_its_distance() -> None:
    told = report(whites([1.0], [1500]), "panel-bicolour", "16-bit")
    assert told.notes[0].startswith("asked 1500 K, out of reach: the nearest is 2701 K, Δu′v′ 0.0")
    assert told.xy == pytest.approx((0.4598, 0.4106), abs=1e-6)
    assert f"{told.off_by:.4f}" in told.notes[0]
    pure = report(colours([1.0], [(0.17, 0.79)]), "spot-six", "16-bit")
    assert pure.white is None and pure.notes[0].startswith("asked xy (0.1700, 0.7900), out of reach")


def test_a_lamp_of_one_colour_says_what_it_always_gives() -> None:
    told = report(whites([1.0], [3200]), "spot-daylight", "8-bit")
    assert told.notes == ("asked 3200 K, always gives 5602 K with tint +0.003",)
    assert report(whites([1.0], [5602], 0.003), "spot-daylight", "8-bit").notes == ()
    red = report(whites([1.0], [3200]), "red-lamp", "8-bit")
    assert red.white is None and red.notes == ("asked 3200 K, always gives xy (0.6900, 0.3080)",)


def test_too_dark_for_the_mode_is_told_with_its_darkest_step() -> None:
    told = report(whites([0.001], [4000]), "spot-six", "8-bit")
    assert set(told.slots) == {0}
    assert told.notes == ("asked 0.1 %, dark: its darkest step is 0.39 %",)
    assert report(whites([0.002], [4000]), "spot-six", "8-bit").notes == ()
    assert report(whites([0.001], [5602], 0.003), "spot-daylight", "8-bit").slots == (1,)


def test_colour_that_the_slots_are_too_coarse_for_is_told() -> None:
    """At 1 % an 8-bit emitter has two or three steps left, and its mix with the others is off."""
    low = report(whites([0.01], [4000]), "tube-rgbww-8", "8-segment")
    slots, flux = np.array(low.slots[:5]), np.array([220.0, 400.0, 90.0, 640.0, 700.0])
    xy = np.array([[0.693, 0.3068], [0.1909, 0.7284], [0.1412, 0.0416], [0.4598, 0.4106], [0.3132, 0.3252]])
    weight = slots * flux / xy[:, 1]  # additive mixture, CIE 15:2004
    sent = xy_to_uv76(weight @ xy / weight.sum())
    off = float(np.hypot(*(sent - xy_to_uv76(low.xy))))
    assert off > 0.005
    assert low.rounding == pytest.approx(off, abs=1e-6)
    assert low.off_by == 0.0  # that is before rounding
    assert low.notes == (f"too low for fine colour: the steps of its slots put it Δu′v′ {off:.3f} off",)
    assert report(whites([0.15], [4000]), "tube-rgbww-8", "8-segment").notes == ()
    assert report(whites([0.01], [4000]), "tube-rgbww-8", "16-bit").notes == ()


def test_a_dark_lamp_has_no_notes() -> None:
    for frame in (whites([0.0], [1000], 0.05), colours([0.0], [(0.7, 0.29)])):
        for kind in kinds():
            assert report(frame, *kind).notes == ()
            assert np.isfinite(report(frame, *kind).rounding)


def test_truest_without_spectra_is_told() -> None:
    told = report(whites([1.0], [4000]), "rgb", "8-bit", mixing="truest")
    assert told.notes == (
        "mixed brightest, not truest: the profile does not give the spectra of its emitters",
    )
    assert report(whites([1.0], [4000]), "spot-six", "16-bit", mixing="truest").notes == ()


@pytest.mark.parametrize("kind", kinds())
def test_even_output_gives_the_same_light_at_every_white(kind: tuple[str, str]) -> None:
    ccts = [2800, 3200, 3600, 4300, 5000, 5600, 6400]
    lamps = rig(*[kind] * len(ccts), even=True)
    told = Encoder(lamps, all_profiles()).report(whites([0.8] * len(ccts), ccts), 5600.0)
    light = np.array([one.light for one in told])
    assert np.ptp(light) <= 1e-9
    plain = Encoder(rig(*[kind] * len(ccts)), all_profiles()).report(whites([0.8] * len(ccts), ccts), 5600.0)
    assert (light <= np.array([one.light for one in plain]) + 1e-9).all()


def test_even_output_where_nothing_is_known_of_the_light_asks_for_readings() -> None:
    [note] = report(whites([1.0], [4000]), "cct-table", "16-bit", even=True).notes
    assert "calibration readings" in note


# ── Calibrated lamps ────────────────────────────────────────────────────────────────────────────────

READINGS = (
    Reading(asked_cct_k=2800, measured_cct_k=2700, measured_duv=0.003, light=500),
    Reading(asked_cct_k=4000, measured_cct_k=4050, measured_duv=0.0, light=640),
    Reading(asked_cct_k=5600, measured_cct_k=5900, measured_duv=-0.002, light=700),
)


@pytest.mark.parametrize("kind", [("spot-six", "16-bit"), ("panel-cct-tint", "16-bit")])
@pytest.mark.parametrize("row", READINGS)
def test_a_calibrated_lamp_is_asked_for_what_measures_right(kind: tuple[str, str], row: Reading) -> None:
    wanted = whites([0.5], [row.measured_cct_k], row.measured_duv)
    calibrated = report(wanted, *kind, calibration=READINGS)
    plain = report(whites([0.5], [row.asked_cct_k], row.asked_duv), *kind)
    assert calibrated.slots == plain.slots
    assert calibrated.white is not None
    assert calibrated.white.cct_k == pytest.approx(row.measured_cct_k, abs=0.1)
    assert calibrated.off_by == 0.0


def test_only_the_lamp_with_readings_is_corrected() -> None:
    plain = rig(("spot-six", "16-bit"), ("spot-six", "16-bit"))
    lamps = (plain[0], plain[1].model_copy(update={"calibration": READINGS}))
    encoder = Encoder(lamps, all_profiles())
    one, other = encoder.report(whites([0.5, 0.5], [3200, 3200]), 5600.0)
    assert one.slots == report(whites([0.5], [3200]), "spot-six", "16-bit").slots
    assert one.slots != other.slots


def test_a_clamp_of_a_calibrated_lamp_is_told_in_what_a_meter_reads() -> None:
    readings = (
        Reading(asked_cct_k=2700, measured_cct_k=2900, measured_duv=0.0, light=1),
        Reading(asked_cct_k=6500, measured_cct_k=6500, measured_duv=0.0, light=1),
    )
    told = report(whites([1.0], [2700]), "panel-cct-tint", "16-bit", calibration=readings)
    assert told.notes[0] == "asked 2700 K, goes no lower than 2900 K"
    assert told.white is not None and told.white.cct_k == pytest.approx(2900, abs=1)


def test_past_the_readings_is_told() -> None:
    def notes(cct_k: float) -> tuple[str, ...]:
        return report(whites([1.0], [cct_k]), "spot-six", "16-bit", calibration=READINGS).notes

    assert notes(3000) == ()
    assert notes(2000) == ("warmer than any calibration reading: corrected as the warmest one was",)
    assert notes(9000) == ("cooler than any calibration reading: corrected as the coolest one was",)


def test_even_output_of_a_calibrated_lamp_follows_the_meter() -> None:
    """A panel that mixes its own whites, one light promised for all: the weakest reading sets the light."""
    lamps = rig(*[("cct-table", "16-bit")] * 3, even=True, calibration=READINGS)
    wanted = whites([1.0] * 3, [r.measured_cct_k for r in READINGS], [r.measured_duv for r in READINGS])
    told = Encoder(lamps, all_profiles()).report(wanted, 5600.0)
    dimmer = [256 * one.slots[5] + one.slots[6] for one in told]
    output = (np.array(dimmer) / 65535) ** 2  # square law
    assert output * [r.light for r in READINGS] == pytest.approx([500.0] * 3, rel=1e-3)
    assert [one.notes for one in told] == [()] * 3


def test_even_output_of_calibrated_emitters_measures_the_same_at_every_white() -> None:
    """Readings were taken at full level, even off, of the whites as asked: scale them by what even leaves."""
    n = len(READINGS)
    asked = whites([1.0] * n, [r.asked_cct_k for r in READINGS], [r.asked_duv for r in READINGS])
    full = Encoder(rig(*[("spot-six", "16-bit")] * n), all_profiles()).report(asked, 5600.0)
    lamps = rig(*[("spot-six", "16-bit")] * n, even=True, calibration=READINGS)
    wanted = whites([1.0] * n, [r.measured_cct_k for r in READINGS], [r.measured_duv for r in READINGS])
    even = Encoder(lamps, all_profiles()).report(wanted, 5600.0)
    metered = [r.light * e.light / f.light for r, e, f in zip(READINGS, even, full, strict=True)]
    assert metered == pytest.approx([metered[0]] * n, rel=1e-6)


def test_a_fade_out_of_white_towards_a_colour_has_no_jump_in_the_correction() -> None:
    lamps = rig(("spot-six", "16-bit"), calibration=READINGS)
    encoder = Encoder(lamps, all_profiles())
    as_white = encoder.encode(whites([0.7], [3000]))[0]
    as_xy = encoder.encode(colours([0.7], [tuple(encoder.report(whites([0.7], [3000]), 5600.0)[0].xy)]))[0]
    assert np.abs(as_white.astype(int) - as_xy.astype(int))[:14:2].max() <= 1


@settings(max_examples=30)
@given(st.sampled_from(kinds()), st.floats(1000, 25000), st.floats(-0.05, 0.05))
def test_the_white_told_is_the_chromaticity_told(kind: tuple[str, str], cct_k: float, duv: float) -> None:
    told = report(whites([1.0], [cct_k], duv), *kind)
    if told.white is not None:
        exact_k, exact_duv = uv60_to_white(xy_to_uv60(told.xy))
        assert told.white.cct_k == pytest.approx(float(exact_k), rel=1e-4)
        assert told.white.duv == pytest.approx(float(exact_duv), abs=1e-6)


def test_every_note_is_one_sentence_without_markup() -> None:
    lamps = rig(*kinds(), even=True, mixing="truest")
    encoder, n = Encoder(lamps, all_profiles()), len(lamps)
    frames = [
        whites([0.5] * n, [1000.0] * n, 0.05),
        whites([0.0008] * n, [25000.0] * n, -0.05),
        colours([0.5] * n, [(0.05, 0.05)] * n),
    ]
    for frame in frames:
        notes = [note for one in encoder.report(frame, 5600.0) for note in one.notes]
        assert len(notes) > n / 2
        for note in notes:
            assert "\n" not in note and note == note.strip() and "nan" not in note
