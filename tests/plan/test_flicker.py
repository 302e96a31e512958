"""The shutter against pulsing light.

Pulses at twice the mains and whole numbers of them are common practice; the angles 360 fps n / (2 mains)
follow from t = angle / (360 fps), whose usual values are 180° at 24 for 1/48, 172.8° for 1/50, 144° for 1/60.
Swings of frames are own arithmetic, here by summing the pulses frame by frame.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from onecrew.plan.exposure import exposure_of, shutter_s_of
from onecrew.plan.flicker import advice, dimmed_by_pulses, on_mains, shutter_words
from onecrew.show.photometry import Photometry
from onecrew.show.show import Camera, Fixture
from tests.show.shows import PROFILES


@pytest.mark.parametrize(
    ("fps", "mains", "angles"),
    [
        (23.976, 50, (86.31, 172.63, 258.94, 345.25)),
        (23.976, 60, (71.93, 143.86, 215.78, 287.71, 359.64)),
        (24, 50, (86.4, 172.8, 259.2, 345.6)),
        (25, 50, (90, 180, 270, 360)),
        (25, 60, (75, 150, 225, 300)),
        (29.97, 50, (107.89, 215.78, 323.68)),
        (30, 60, (90, 180, 270, 360)),
        (60, 50, (216,)),
    ],
)
def test_the_safe_angles_are_the_usual_ones(fps: float, mains: float, angles: tuple[float, ...]) -> None:
    for angle in angles:
        found = on_mains(Camera(fps=fps, shutter_deg=angle), mains)
        assert found.whole, angle
        assert found.swing_stops == 0.0
    told = {round(360 * fps * time, 2) for angle in range(40, 361, 10)
            for time in on_mains(Camera(fps=fps, shutter_deg=angle), mains).safe_s}  # fmt: skip
    assert all(any(abs(each - angle) < 0.02 for angle in angles) for each in told)


@pytest.mark.parametrize(
    ("per_s", "mains", "swing"), [(48, 50, 0.114), (60, 50, 0.482), (50, 60, 0.366), (48, 60, 0.369)]
)
def test_how_far_frames_differ_on_the_mains(per_s: float, mains: float, swing: float) -> None:
    found = on_mains(Camera(shutter_s=1 / per_s), mains)
    assert found.swing_stops == pytest.approx(swing, abs=2e-3)
    starts = np.linspace(0, 1, 400)[:, None]
    moments = np.linspace(0, 1 / per_s, 4000)[None, :]
    light = (1 + np.cos(2 * np.pi * 2 * mains * (moments + starts))).mean(axis=1)
    assert found.swing_stops == pytest.approx(math.log2(light.max() / light.min()), abs=0.01)


@pytest.mark.parametrize(
    ("pwm", "worst"), [(672, 0.10), (600, 0.115), (1000, 0.070), (4000, 0.018), (25000, 0.003)]
)
def test_pulse_width_dimming_at_worst(pwm: float, worst: float) -> None:
    assert dimmed_by_pulses(Camera(shutter_s=1 / 48), "it", pwm + 7).swing_stops == pytest.approx(
        worst, abs=0.005
    )
    assert dimmed_by_pulses(Camera(shutter_s=1 / 50), "it", 1000).whole


def test_a_shutter_shorter_than_a_pulse_may_see_none() -> None:
    found = dimmed_by_pulses(Camera(shutter_s=1 / 1000), "it", 400)
    assert math.isinf(found.swing_stops)
    assert found.safe_s == (1 / 400,)


def fixture(name: str, role: str, profile: str) -> Fixture:
    return Fixture.model_validate(
        {"id": name, "profile": profile, "mode": "8-bit", "universe": 1, "address": 1, "role": role}
    )


def test_advice_names_the_practical_and_the_way_out() -> None:
    lamps = [fixture("lamp", "practical", "bulb-rgbw"), fixture("hood", "key", "panel-rgbww")]
    [said] = advice(Camera(shutter_s=1 / 50), lamps, PROFILES)
    assert "1/50 s holds 2.4 pulses of 60 Hz mains (120 a second)" in said
    assert "up to 0.37 stop" in said
    assert "1/60 s (150°)" in said and "1/40 s (225°)" in said
    assert "common practice" in said and "lamp" in said
    assert list(advice(Camera(shutter_s=1 / 50), lamps, PROFILES, 50)) == []
    assert list(advice(Camera(shutter_s=1 / 50), lamps[1:], PROFILES)) == []


def test_advice_names_a_lamp_by_its_stated_rate() -> None:
    slow = PROFILES["panel-rgbww"].model_copy(update={"photometry": Photometry(lumens=1.0, pwm_hz=330.0)})
    [said] = advice(Camera(shutter_s=1 / 50), [fixture("hood", "key", "panel-rgbww")], {"panel-rgbww": slow})
    assert "1/50 s holds 6.6 pulses of hood (330 a second)" in said
    quick = slow.model_copy(update={"photometry": Photometry(lumens=1.0, pwm_hz=25000.0)})
    assert not list(advice(Camera(), [fixture("hood", "key", "panel-rgbww")], {"panel-rgbww": quick}))


def test_words_for_the_sheet() -> None:
    said = shutter_words(Camera(shutter_s=1 / 50))
    assert said == "2 whole pulses on 50 Hz mains, 2.4 pulses on 60 Hz (up to 0.37 stop); common practice"


def test_angle_t_stop_and_density_count() -> None:
    """t = angle / (360 fps); T = N / √τ; a stop of density doubles the light that is called for."""
    plain = Camera(iso=800, shutter_s=1 / 48, aperture=2.8, fps=24)
    angled = plain.model_copy(update={"shutter_s": 1.0, "shutter_deg": 180.0})
    assert shutter_s_of(angled) == pytest.approx(1 / 48)
    assert exposure_of(angled).lux == pytest.approx(exposure_of(plain).lux)
    assert exposure_of(angled).shutter_deg == pytest.approx(180.0)
    dense = plain.model_copy(update={"nd_stops": 1.8 / math.log10(2)})  # ND 1.8 is 5.979 stops
    assert exposure_of(dense).lux / exposure_of(plain).lux == pytest.approx(10**1.8)
    assert exposure_of(dense).ev_100 - exposure_of(plain).ev_100 == pytest.approx(5.979, abs=1e-3)
    lens = plain.model_copy(update={"t_stop": 2.8 / math.sqrt(0.8)})  # T 3.13, 0.322 EV
    assert math.log2(exposure_of(lens).lux / exposure_of(plain).lux) == pytest.approx(0.322, abs=1e-3)


def test_a_rate_that_is_known_of_the_lamp_counts_before_its_profile_s() -> None:
    quick = Photometry(lumens=1.0, pwm_hz=25000.0)
    profiles = {"panel-rgbww": PROFILES["panel-rgbww"].model_copy(update={"photometry": quick})}
    lamp = fixture("hood", "key", "panel-rgbww")
    assert not list(advice(Camera(shutter_s=1 / 50), [lamp], profiles))
    [told] = advice(Camera(shutter_s=1 / 50), [lamp.model_copy(update={"pwm_hz": 330.0})], profiles)
    assert "330 a second" in told
