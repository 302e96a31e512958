"""Slots and the patch → lamps, worked out by hand; and bytes of any kind do no harm."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.documents.show import Fixture
from controller.errors import Mistake
from controller.output.decoder import Decoder, Seen
from tests.fakes.profiles import all_profiles, kinds, rig


def lamp(profile: str, mode: str, address: int = 1, universe: int = 1) -> Fixture:
    return Fixture(id="lamp", profile=profile, mode=mode, universe=universe, address=address, role="key")


def seen(slots: list[int], profile: str, mode: str, address: int = 1) -> Seen:
    [one] = Decoder([lamp(profile, mode, address)], all_profiles()).decode({1: bytes(slots)})
    return one


def test_a_dimmer_by_its_law() -> None:
    # IEC 62386-102 at half of its range: 3.1623 % (formula from memory, checked on makers' published points).
    one = seen([128, 0], "spot-daylight", "16-bit")
    assert one.level == pytest.approx(32768 / 65535)
    assert one.output == pytest.approx(0.031623, rel=1e-3)
    assert one.xy == pytest.approx((0.3301, 0.3449))


# ITU-R BT.709: its primaries in their shares of the light make D65, (0.3127, 0.3290); red and green alone in
# equal luminance mix by Grassmann's law.
def test_the_primaries_of_bt709_make_d65() -> None:
    one = seen([0, 0, 255, 255, 255], "rgb", "8-bit", address=3)
    assert one.xy == pytest.approx((0.3127, 0.3290), abs=2e-5)
    assert (one.level, one.output, one.light) == pytest.approx((1.0, 1.0, 1.0))
    # D65 at (0.3127, 0.3290): 6504.3 K, Duv +0.0032 (exact minimisation with numpy).
    assert one.cct_k == pytest.approx(6504.3, abs=1.5) and one.duv == pytest.approx(0.0032, abs=5e-5)


def test_red_alone_is_red_at_its_share_of_the_light() -> None:
    one = seen([255, 255, 0, 0, 0, 0], "rgb", "16-bit")
    assert one.xy == pytest.approx((0.64, 0.33))
    assert one.light == pytest.approx(0.2126, abs=1e-4)
    assert one.level == pytest.approx(1.0)
    assert one.cct_k is None and one.duv is None


def test_without_a_dimmer_each_emitter_goes_through_the_law() -> None:
    # Square law: half of the range is a quarter of the light, of every emitter alike.
    full = seen([255, 255, 77, 255, 255, 255], "square-mixed", "odd")
    half = seen([128, 0, 77, 128, 128, 0], "square-mixed", "odd")
    assert half.light == pytest.approx(full.light / 4, rel=3e-3)
    assert half.level == pytest.approx(0.5, abs=2e-3)
    assert half.xy == pytest.approx(full.xy, abs=1e-3)


def test_with_a_dimmer_the_law_is_the_dimmers() -> None:
    # bulb-rgbww: square law on the dimmer, red alone at half drive.
    one = seen([128, 128, 0, 0, 0, 0], "bulb-rgbww", "8-bit")
    red_share = 90.0 / (90 + 170 + 38 + 420 + 450)
    assert one.light == pytest.approx((128 / 255) ** 2 * (128 / 255) * red_share)


def test_cct_and_tint() -> None:
    one = seen([255, 255, 128, 0, 191, 255], "panel-cct-tint", "16-bit")
    assert one.cct_k == pytest.approx(4600.0, abs=0.1)
    assert one.duv == pytest.approx(0.01, abs=1e-6)
    assert one.level == 1.0


def test_a_cct_channel_that_begins_cool() -> None:
    assert seen([255, 51], "cool-first", "range").cct_k == pytest.approx(6500 - 0.2 * 3800, abs=0.1)
    assert seen([255, 255, 128, 0], "cool-first", "table").cct_k == pytest.approx(4400.0, abs=0.1)


def test_segments_that_differ_are_seen_as_their_mean() -> None:
    block = [0, 0, 0, 255, 0]  # warm full on
    one = seen(block * 4 + [0] * 20, "tube-rgbww-8", "8-segment")
    whole = seen(block * 8, "tube-rgbww-8", "8-segment")
    assert one.light == pytest.approx(whole.light / 2)
    assert one.xy == pytest.approx(whole.xy)


def test_black_and_missing_slots() -> None:
    for kind in kinds():
        dark = Decoder(rig(kind), all_profiles()).decode({})
        assert [(one.level, one.output, one.light) for one in dark] == [(0.0, 0.0, 0.0)]
        assert all(0.0 < part < 1.0 for part in dark[0].xy)
    short = Decoder([lamp("rgb", "8-bit", 10)], all_profiles()).decode({1: bytes([255] * 10)})
    assert short[0].xy == pytest.approx((0.64, 0.33))


def test_each_lamp_reads_its_own_universe() -> None:
    lamps = [lamp("spot-daylight", "8-bit", 5, 2), lamp("spot-daylight", "8-bit", 5, 9)]
    two, nine = Decoder(lamps, all_profiles()).decode({2: bytes([0] * 4 + [255]), 9: bytes(512)})
    assert (two.level, nine.level) == (1.0, 0.0)


def test_the_swatch_follows_the_camera() -> None:
    slots = {1: bytes([255, 255, 255, 255, 128, 0])}  # 6500 K
    day, night = (
        Decoder([lamp("panel-cct-tint", "16-bit")], all_profiles(), wb_k).decode(slots)[0].swatch
        for wb_k in (6500.0, 3200.0)
    )
    assert day == "#ffffff" and int(night[1:3], 16) < 200


@settings(max_examples=40)
@given(st.binary(max_size=512))
def test_any_bytes_are_some_light(slots: bytes) -> None:
    for one in DECODER.decode({1: slots, 2: slots}):
        assert 0.0 <= one.level <= 1.0 and 0.0 <= one.output <= 1.0 and 0.0 <= one.light <= 1.0 + 1e-9
        assert 0.0 < one.xy[0] < 1.0 and 0.0 < one.xy[1] < 1.0
        assert (one.cct_k is None) == (one.duv is None)
        assert len(one.swatch) == 7


DECODER = Decoder(rig(*kinds()), all_profiles())


def test_what_cannot_be_patched_is_a_mistake() -> None:
    with pytest.raises(Mistake, match="past the 512 slots"):
        Decoder([lamp("rgb", "8-bit", 511)], all_profiles())
