"""Exposure arithmetic: values worked out by hand from the relation of ISO 2720:1974."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.plan.exposure import exposure_of
from onecrew.show.show import Camera

# Own arithmetic from N²/t = E·S/C with C = 250 lux, the usual constant of ISO 2720:1974 for a flat receptor;
# one footcandle is 1/0.3048² lux. Columns: aperture, 1/time, ISO, lux, footcandles, EV = log2(N²/t) and EV at
# ISO 100.
WORKED = [
    (2.8, 48, 800, 117.6, 10.93, 8.556, 5.556),
    (4.0, 48, 800, 240.0, 22.30, 9.585, 6.585),
    (5.6, 50, 800, 490.0, 45.52, 10.615, 7.615),
    (2.0, 50, 400, 125.0, 11.61, 7.644, 5.644),
    (1.4, 48, 500, 47.04, 4.37, 6.556, 4.234),
    (2.8, 50, 100, 980.0, 91.04, 8.615, 8.615),
    (16.0, 100, 100, 64000.0, 5946.0, 14.644, 14.644),
]


@pytest.mark.parametrize(("n", "per_s", "iso", "lux", "fc", "ev", "ev_100"), WORKED)
def test_worked_values(
    n: float, per_s: float, iso: int, lux: float, fc: float, ev: float, ev_100: float
) -> None:
    found = exposure_of(Camera(iso=iso, shutter_s=1 / per_s, aperture=n))
    assert found.lux == pytest.approx(lux, rel=5e-4)
    assert found.footcandles == pytest.approx(fc, rel=5e-4)
    assert found.ev == pytest.approx(ev, abs=5e-4)
    assert found.ev_100 == pytest.approx(ev_100, abs=5e-4)


def test_the_light_of_ev_8_at_iso_100() -> None:
    # Own arithmetic: lux = 2.5 · 2^EV at ISO 100 (C = 250): EV 8 is 640 lux, EV 10 is 2560 lux.
    assert exposure_of(Camera(iso=100, shutter_s=1 / 64, aperture=2.0)).lux == pytest.approx(640.0)
    assert exposure_of(Camera(iso=100, shutter_s=1 / 64, aperture=4.0)).lux == pytest.approx(2560.0)


@pytest.mark.parametrize(
    ("shutter_s", "fps", "angle"), [(1 / 50, 25.0, 180.0), (1 / 48, 24.0, 180.0), (1 / 25, 25.0, 360.0)]
)
def test_shutter_angle(shutter_s: float, fps: float, angle: float) -> None:
    # angle = 360° · time · frame rate (common practice)
    assert exposure_of(Camera(shutter_s=shutter_s, fps=fps)).shutter_deg == pytest.approx(angle)
    assert exposure_of(Camera(shutter_s=1.0, fps=25.0)).shutter_deg is None


@given(aperture=st.floats(0.7, 45.0), shutter_s=st.floats(1e-4, 60.0), iso=st.integers(25, 100_000))
def test_a_stop_of_anything_is_an_ev(aperture: float, shutter_s: float, iso: int) -> None:
    here = exposure_of(Camera(aperture=aperture, shutter_s=shutter_s, iso=iso))
    shorter = exposure_of(Camera(aperture=aperture, shutter_s=shutter_s / 2, iso=iso))
    faster = exposure_of(Camera(aperture=aperture, shutter_s=shutter_s, iso=2 * iso))
    assert shorter.ev - here.ev == pytest.approx(1.0)
    assert here.ev_100 - faster.ev_100 == pytest.approx(1.0)
    assert shorter.lux / here.lux == pytest.approx(2.0)
