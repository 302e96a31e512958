"""One light on one kind of fixture, without a rig."""

from __future__ import annotations

import pytest

from controller.documents.light import Light, White
from controller.documents.profiles import load_profiles, shipped_folder
from controller.documents.show import Reading
from controller.errors import Mistake
from controller.output.describe import describe_colour, describe_lights
from tests.fakes.profiles import all_profiles, rig

PROFILES = all_profiles()


def test_a_white_in_slots_drives_and_reach() -> None:
    told = describe_colour(PROFILES["spot-six"], "16-bit", Light(level=0.15, white=White(cct_k=2800)))
    assert told.level == 0.15
    assert told.slots[:2] == (38, 102)  # 0.15 · 65535 = 9830.25
    assert len(told.slots) == 14 and len(told.drives) == 6
    # Planckian 2800 K: x 0.451860, y 0.408631 (CIE 1931 at 1 nm, c2 = 1.4388e-2; numpy, agreed by luxpy).
    assert told.xy == pytest.approx((0.451860, 0.408631), abs=2e-6)
    assert told.off_by == 0.0 and told.notes == ()


def test_an_xy() -> None:
    told = describe_colour(PROFILES["rgb"], "8-bit", Light(level=1.0, xy=(0.64, 0.33)))
    assert told.slots == (255, 0, 0) and told.white is None


def test_a_light_without_a_colour_takes_the_natural_one() -> None:
    spot = describe_colour(PROFILES["spot-daylight"], "8-bit", Light(level=1.0))
    assert spot.xy == pytest.approx((0.3301, 0.3449), abs=1e-5) and spot.notes == ()
    for profile in load_profiles([shipped_folder()]).values():
        for mode in profile.modes:
            assert describe_colour(profile, mode, Light(level=1.0)).notes == ()


def test_ways_of_mixing_and_even_output_are_taken() -> None:
    light = Light(level=1.0, white=White(cct_k=4300))
    plain = describe_colour(PROFILES["spot-six"], "16-bit", light)
    truest = describe_colour(PROFILES["spot-six"], "16-bit", light, mixing="truest")
    even = describe_colour(PROFILES["spot-six"], "16-bit", light, even=True)
    assert plain.slots != truest.slots and truest.xy == pytest.approx(plain.xy, abs=1e-9)
    assert truest.light <= plain.light and even.light <= plain.light
    at_its_white = describe_colour(PROFILES["spot-six"], "16-bit", light, white_balance_k=4300.0)
    assert at_its_white.swatch == "#ffffff"


def test_a_mode_it_does_not_have_is_a_mistake() -> None:
    with pytest.raises(Mistake, match="modes of rgb are 8-bit, 16-bit, dimmed"):
        describe_colour(PROFILES["rgb"], "32-bit", Light(level=1.0))


def test_a_fixture_of_a_rig_is_described_as_it_is_set_wherever_it_is_patched() -> None:
    reading = Reading(asked_cct_k=3200, measured_cct_k=3100, measured_duv=0.0, light=1.0)
    _, lamp = rig(("spot-six", "16-bit"), ("spot-six", "16-bit"), mixing="truest", calibration=(reading,))
    assert lamp.address == 15
    lights = [Light(level=0.5, white=White(cct_k=k)) for k in (3100, 5600)]
    warm, cool = describe_lights(lamp, PROFILES, lights)
    asked = describe_colour(PROFILES["spot-six"], "16-bit", Light(level=0.5, white=White(cct_k=3200)),
                            mixing="truest")  # fmt: skip
    assert warm.slots == asked.slots and len(cool.slots) == 14
    assert warm.white is not None and warm.white.cct_k == pytest.approx(3100.0, abs=0.1)
