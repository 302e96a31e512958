"""The spectrum of a mix by its profile: the light of each emitter added up, or why it is not known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.colour.spectra import spectrum_to_xy, spectrum_to_xyz
from controller.documents.light import Light, White
from controller.documents.profile import Emitter, Mode, Peak, Profile
from controller.errors import Mistake
from controller.output.describe import describe_colour
from controller.output.spectral import spectrum_of, truest_stops
from tests.fakes.profiles import all_profiles

PROFILES = all_profiles()
SPOT = PROFILES["spot-six"]


def mode(profile: Profile, name: str) -> Mode:
    found = profile.mode(name)
    assert found is not None
    return found


@given(st.lists(st.floats(0.05, 1.0), min_size=6, max_size=6))
def test_every_emitter_brings_its_flux(drives: list[float]) -> None:
    told = dict(zip(SPOT.emitters, drives, strict=True))
    whole = spectrum_of(SPOT, SPOT.modes[0], told)
    # Luminance of a sum of spectra is the sum of their luminances (Abney; CIE 15:2004).
    flux = sum(SPOT.emitters[name].flux * drive for name, drive in told.items())
    assert float(spectrum_to_xyz(whole)[1]) == pytest.approx(flux, rel=1e-9)
    alone = [spectrum_of(SPOT, SPOT.modes[0], {name: drive}) for name, drive in told.items()]
    assert whole == pytest.approx(np.sum(alone, axis=0))


def test_the_spectrum_has_the_colour_that_was_mixed() -> None:
    """As far as the profile's spectra agree with its chromaticities: four digits in the shipped ones."""
    for name in ("spot-six", "panel-rgbww", "bulb-rgbw"):
        profile = PROFILES[name]
        for cct_k in (2800.0, 4300.0, 6500.0):
            light = Light(level=0.3, white=White(cct_k=cct_k))
            told = describe_colour(profile, profile.modes[0], light)
            assert spectrum_to_xy(spectrum_of(profile, profile.modes[0], told.drives)) == pytest.approx(
                told.xy, abs=1e-4
            )


def test_why_a_spectrum_is_not_known() -> None:
    with pytest.raises(Mistake, match="bulb-rgbww/white mixes its whites by itself"):
        spectrum_of(PROFILES["bulb-rgbww"], mode(PROFILES["bulb-rgbww"], "white"), {})
    with pytest.raises(Mistake, match="profile rgb gives no spectrum for red, blue"):
        spectrum_of(PROFILES["rgb"], PROFILES["rgb"].modes[0], {"red": 0.5, "green": 0.0, "blue": 1.0})
    with pytest.raises(Mistake, match="nothing is driven"):
        spectrum_of(SPOT, SPOT.modes[0], {"red": 0.0})


def test_only_the_emitters_that_are_driven_need_a_spectrum() -> None:
    profile = Profile(
        id="half",
        name="Half known",
        emitters={
            "white": Emitter(xy=(0.44, 0.40), spectrum=(Peak(peak_nm=560, fwhm_nm=120),)),
            "red": Emitter(xy=(0.69, 0.30)),
        },
        modes=({"name": "8-bit", "channels": ({"emitter": "white"}, {"emitter": "red"})},),
    )
    power = spectrum_of(profile, profile.modes[0], {"white": 1.0, "red": 0.0})
    assert int(power.argmax()) + 360 == 560
    assert truest_stops(profile, profile.modes[0], (0.46, 0.40)) is None


def test_truest_costs_nothing_where_there_is_no_choice() -> None:
    bicolour = PROFILES["panel-bicolour"]
    assert truest_stops(bicolour, bicolour.modes[0], (0.38, 0.37)) == pytest.approx(0.0, abs=1e-9)
    costs = truest_stops(SPOT, SPOT.modes[0], (0.3301998, 0.3390811))
    assert costs is not None and 0.0 < costs <= 1.5
    spot = PROFILES["spot-daylight"]
    assert truest_stops(spot, spot.modes[0], (0.33, 0.34)) is None
