"""Lights → slots, value by value: where they lie, what they say, what stays."""

from __future__ import annotations

import numpy as np
import pytest

from controller.documents.show import Fixture
from controller.errors import Mistake
from controller.output.encoder import Encoder
from controller.playback.frame import Frame
from tests.fakes.profiles import BT709_LIGHT, RGB, all_profiles, colours, rig, whites

D65 = (0.3127, 0.3290)


def fixture(profile: str, mode: str, address: int = 1, universe: int = 1, **more: object) -> Fixture:
    place = {"universe": universe, "address": address, "role": "key", **more}
    return Fixture(id=f"lamp-{universe}-{address}", profile=profile, mode=mode, **place)


def slots(frame: Frame, *fixtures: Fixture) -> list[int]:
    """All slots of the first universe."""
    return Encoder(fixtures, all_profiles()).encode(frame)[0].tolist()


# ITU-R BT.709: red, green and blue in shares 0.2126, 0.7152, 0.0722 of the light make D65 white; with fluxes
# in just these shares all three are full on.
@pytest.mark.parametrize(("mode", "full"), [("8-bit", [255] * 3), ("16-bit", [255] * 6)])
def test_the_primaries_of_bt709_make_d65(mode: str, full: list[int]) -> None:
    assert slots(colours([1.0], [D65]), fixture("rgb", mode))[: len(full)] == full


# The same shares read the other way: a colour of red and green alone is their sum in XYZ (Grassmann's law),
# here with drives 1 and 0.5.
def test_a_mix_of_red_and_half_green() -> None:
    xyz = np.zeros(3)
    for name, drive in (("red", 1.0), ("green", 0.5)):
        x, y = RGB[name]
        xyz += drive * BT709_LIGHT[name] / y * np.array([x, y, 1.0 - x - y])
    xy = tuple((xyz[:2] / xyz.sum()).tolist())
    assert slots(colours([1.0], [xy]), fixture("rgb", "16-bit"))[:6] == [255, 255, 128, 0, 0, 0]


def test_level_scales_the_drives_in_linear_light() -> None:
    assert slots(colours([0.25], [D65]), fixture("rgb", "16-bit"))[:6] == [64, 0] * 3  # 16383.75
    assert slots(colours([0.02], [D65]), fixture("rgb", "8-bit"))[:3] == [5] * 3


def test_coarse_lies_below_fine_and_a_fixed_value_stays() -> None:
    lamp = fixture("square-mixed", "odd", address=3)
    dark = slots(whites([0.0], [4000]), lamp)
    assert dark[:8] == [0, 0, 0, 0, 77, 0, 0, 0]
    assert sum(dark) == 77
    # Its warm emitter alone, by the square law at level 0.25: the channel says √(1 · 0.25²) = 0.25 → 16384.
    warm = slots(colours([0.25], [(0.4598, 0.4106)]), lamp)
    assert warm[2:8] == [0, 0, 77, 0, 64, 0]


def test_a_dimmer_is_told_the_level_as_it_is() -> None:
    assert slots(whites([0.15], [5600]), fixture("spot-daylight", "8-bit"))[0] == 38  # 38.25
    assert slots(whites([0.15], [5600]), fixture("spot-daylight", "16-bit"))[:2] == [38, 102]  # 9830.25
    assert slots(whites([0.5], [2700]), fixture("practical-dimmer", "8-bit"))[0] == 128


def test_with_a_dimmer_the_drives_keep_their_full_resolution() -> None:
    at = {
        level: slots(colours([level], [(0.35, 0.38)]), fixture("rgb", "dimmed"))[:4]
        for level in (1.0, 0.02, 0.0)
    }
    assert at[1.0][0] == 255 and at[0.02][0] == 5
    assert at[1.0][1:] == at[0.02][1:] and max(at[1.0][1:]) == 255
    assert at[0.0] == [0, 0, 0, 0]


def test_a_law_on_the_dimmer_leaves_the_emitters_linear() -> None:
    """bulb-rgbww dims by the square law on its dimmer."""
    red = slots(colours([0.5], [(0.693, 0.3068)]), fixture("bulb-rgbww", "8-bit"))[:6]
    assert red == [128, 255, 0, 0, 0, 0]


def test_cct_and_tint_are_told_as_they_are() -> None:
    lamp = fixture("panel-cct-tint", "16-bit")
    # (4600 − 2700) / (6500 − 2700) = 0.5; (0.01 + 0.02) / 0.04 = 0.75 → 49151.25.
    assert slots(whites([1.0], [4600], 0.01), lamp)[:6] == [255, 255, 128, 0, 191, 255]
    assert slots(whites([1.0], [2700]), lamp)[2:6] == [0, 0, 128, 0]
    assert slots(whites([1.0], [2000], -0.05), lamp)[2:6] == [0, 0, 0, 0]  # clamped
    assert slots(whites([1.0], [20000], 0.05), lamp)[2:6] == [255] * 4


def test_cct_by_a_table_and_a_tint_that_runs_backwards() -> None:
    lamp = fixture("cct-table", "16-bit")
    # Halfway from 3200 to 5600 K: half of 0.25…0.75. Duv 0.015, halfway from +0.03 at 0 to neutral at 0.6.
    assert slots(whites([0.5], [4400], 0.015), lamp)[:7] == [128, 0, 76, 205, 9, 128, 0]  # 0.3 → 19660.5
    # Duv −0.01, halfway from neutral at 0.6 to −0.02 at 1: 0.8.
    assert slots(whites([0.5], [3200], -0.01), lamp)[:4] == [64, 0, 204, 204]


def test_a_cct_channel_that_begins_cool() -> None:
    # (6500 − 4600) / (6500 − 2700) = 0.5 of 255 → 127.5, half up.
    assert slots(whites([1.0], [4600]), fixture("cool-first", "range"))[:2] == [255, 128]
    assert [slots(whites([1.0], [k]), fixture("cool-first", "range"))[1] for k in (2000, 9000)] == [255, 0]
    lamp = fixture("cool-first", "table")
    # Halfway from 5600 to 3200 K: half of 0.25…0.75.
    assert slots(whites([1.0], [4400]), lamp)[:4] == [255, 255, 128, 0]
    assert slots(whites([1.0], [1000]), lamp)[2:4] == [255, 255]
    assert slots(whites([1.0], [25000]), lamp)[2:4] == [0, 0]


def test_a_white_channel_keeps_its_colour_at_level_0() -> None:
    lamp = fixture("panel-cct-tint", "8-bit")
    assert slots(whites([0.0], [4600]), lamp)[:3] == [0, 128, 128]


def test_every_segment_says_the_same() -> None:
    lamp = fixture("tube-rgbww-8", "8-segment", address=100)
    block = slots(whites([0.7], [4000]), lamp)
    assert block[99:139] == block[99:104] * 8 and max(block[99:104]) > 0
    assert sum(block[:99]) == sum(block[139:]) == 0


def test_universes_are_rows_in_rising_order() -> None:
    lamps = [fixture("spot-daylight", "8-bit", 512, 7), fixture("spot-daylight", "8-bit", 2, 3)]
    encoder = Encoder(lamps, all_profiles())
    assert encoder.universes == (3, 7)
    rows = encoder.encode(whites([1.0, 0.5], [5600, 5600]))
    assert rows.shape == (2, 512) and rows.dtype == np.uint8
    assert (rows[1, 511], rows[0, 1]) == (255, 128) and rows.sum() == 383


def test_order_in_the_rig_and_grouping_do_not_matter() -> None:
    kinds = [
        ("spot-six", "16-bit"),
        ("panel-bicolour", "8-bit"),
        ("spot-six", "16-bit"),
        ("rgb", "8-bit"),
    ] * 3
    lamps = rig(*kinds)
    levels = np.linspace(0.1, 1.0, len(lamps))
    ccts = np.linspace(2800, 6400, len(lamps))
    whole = Encoder(lamps, all_profiles()).encode(whites(levels, ccts))
    alone = np.zeros(512, dtype=np.uint8)
    for lamp, level, cct_k in zip(lamps, levels, ccts, strict=True):
        alone |= Encoder([lamp], all_profiles()).encode(whites([level], [cct_k]))[0]
    assert whole[0].tolist() == alone.tolist()


def test_the_same_frame_gives_the_same_slots_in_new_memory() -> None:
    encoder = Encoder(rig(("spot-six", "16-bit"), ("panel-cct-tint", "8-bit")), all_profiles())
    frame = whites([0.3, 0.7], [3000, 5000])
    first, second = encoder.encode(frame), encoder.encode(frame)
    assert first.tobytes() == second.tobytes() and not np.shares_memory(first, second)


def test_the_frame_is_left_as_it_was() -> None:
    lamps = rig(("panel-cct-tint", "8-bit"), ("spot-six", "8-bit"))
    frame = colours([0.5, 0.5], [(0.4, 0.4), (0.2, 0.3)])
    before = [array.copy() for array in (frame.level, frame.mired, frame.duv, frame.u, frame.v)]
    Encoder(lamps, all_profiles()).encode(frame)
    after = (frame.level, frame.mired, frame.duv, frame.u, frame.v)
    assert all((a == b).all() for a, b in zip(before, after, strict=True))


def test_numbers_out_of_range_or_none_at_all_do_no_harm() -> None:
    lamps = rig(*[("spot-six", "16-bit"), ("panel-cct-tint", "16-bit"), ("spot-daylight", "8-bit")] * 2)
    bad = np.array([np.nan, np.inf, -np.inf, -3.0, 0.0, 1e9])
    for white in (True, False):
        frame = Frame(bad, np.full(6, white), bad, bad, bad, bad)
        rows = Encoder(lamps, all_profiles()).encode(frame)
        assert rows[0, 0:2].tolist() == [0, 0]  # a level that is not a number is black


def test_an_empty_rig_has_no_universes() -> None:
    encoder = Encoder((), all_profiles())
    assert encoder.universes == ()
    assert encoder.encode(whites([], [])).shape == (0, 512)
    assert encoder.report(whites([], []), 5600.0) == []


def test_what_cannot_be_patched_is_a_mistake_with_the_mend() -> None:
    with pytest.raises(Mistake, match=r"end at 513.*address up to 511"):
        Encoder([fixture("spot-daylight", "16-bit", 512)], all_profiles())
    with pytest.raises(Mistake, match="no profile"):
        Encoder([fixture("candle", "8-bit")], all_profiles())
    with pytest.raises(Mistake, match="8-bit, 16-bit"):
        Encoder([fixture("spot-six", "4-bit")], all_profiles())


def test_emitters_that_no_light_has_are_a_mistake_of_the_profile() -> None:
    """Whatever the documents let through: x + y above 1 lies outside the diagram (CIE 15:2004)."""
    rgb = all_profiles()["rgb"]
    outside = rgb.emitters["red"].model_copy(update={"xy": (0.7, 0.4)})
    profiles = {"rgb": rgb.model_copy(update={"emitters": {**rgb.emitters, "red": outside}})}
    with pytest.raises(Mistake, match="emitters of profile rgb"):
        Encoder([fixture("rgb", "8-bit")], profiles)
