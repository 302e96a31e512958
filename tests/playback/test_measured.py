"""A profile with the emitters that a meter found: colour, share of the light, and how the lamp dims."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.playback.laws import laws_of
from onecrew.playback.measured import measured_profile
from onecrew.show.profile import Profile
from onecrew.show.show import EmitterReading, Fixture
from tests.fakes.profiles import all_profiles

PROFILES = all_profiles()
PANEL = PROFILES["panel-rgbww"]


def read(
    emitter: str, light: float, level: float = 1.0, xy: tuple[float, float] | None = None
) -> EmitterReading:
    return EmitterReading(emitter=emitter, level=level, xy=xy or PANEL.emitters[emitter].xy, light=light)


def lamp(*readings: EmitterReading, profile: Profile = PANEL) -> Fixture:
    mode = profile.modes[0].name
    return Fixture(
        id="sky", profile=profile.id, mode=mode, universe=1, address=1, role="key", emitter_readings=readings
    )


def output(profile: Profile, level: float) -> float:
    return float(laws_of([profile]).output(np.array([level]))[0])


def test_without_readings_the_profile_is_the_one_that_comes_with_the_lamp() -> None:
    assert measured_profile(lamp(), PANEL) is PANEL
    stranger = EmitterReading(emitter="violet", xy=(0.2, 0.05), light=1.0)
    assert measured_profile(lamp(stranger), PANEL) is PANEL


def test_colour_is_as_read_and_light_is_shared_out_as_read() -> None:
    """Half of red's light for its flux; the fluxes of what was read keep their sum, the rest stays."""
    found = measured_profile(lamp(read("red", 26.0, xy=(0.68, 0.31)), read("green", 95.0)), PANEL).emitters
    assert found["red"].xy == (0.68, 0.31)
    assert found["green"].flux / found["red"].flux == pytest.approx(95.0 / 26.0)
    total = PANEL.emitters["red"].flux + PANEL.emitters["green"].flux
    assert found["green"].flux + found["red"].flux == pytest.approx(total)
    assert {name: found[name] for name in ("blue", "warm", "cool")} == {
        name: PANEL.emitters[name] for name in ("blue", "warm", "cool")
    }


def test_readings_alike_in_any_unit_are_one_profile() -> None:
    one, other = (
        measured_profile(lamp(read("red", 3.0 * unit), read("warm", 7.0 * unit)), PANEL)
        for unit in (1.0, 0.0929)
    )
    for name in PANEL.emitters:
        assert one.emitters[name].flux == pytest.approx(other.emitters[name].flux)


def test_a_lamp_that_dims_as_it_says_keeps_its_law() -> None:
    """1.5 % brighter at 20 % is less than a meter tells."""
    found = measured_profile(lamp(read("red", 100.0), read("red", 20.3, 0.2)), PANEL)
    assert (found.dimming, found.dimming_table) == (PANEL.dimming, PANEL.dimming_table)


@pytest.mark.parametrize("law", ["linear", "square", "log"])
def test_a_lamp_that_dims_otherwise_gives_what_was_read_where_it_was_read(law: str) -> None:
    own = PANEL.model_copy(update={"dimming": law})
    promised = [output(own, level) for level in (0.5, 0.2)]
    found = measured_profile(
        lamp(
            read("red", 100.0), read("red", 110.0 * promised[0], 0.5), read("red", 130.0 * promised[1], 0.2),
            read("blue", 10.0), read("blue", 11.0 * promised[0], 0.5), read("blue", 13.0 * promised[1], 0.2),
        ),
        own,
    )  # fmt: skip
    assert output(found, 0.5) == pytest.approx(1.1 * promised[0], rel=3e-3)
    assert output(found, 0.2) == pytest.approx(1.3 * promised[1], rel=3e-3)
    assert output(found, 0.05) == pytest.approx(1.3 * output(own, 0.05), rel=5e-3)  # held below
    assert (output(found, 0.0), output(found, 1.0)) == (0.0, 1.0)


@given(
    st.dictionaries(st.sampled_from([0.9, 0.5, 0.2, 0.1, 0.05, 0.01]), st.floats(1e-4, 1e4), min_size=1),
    st.sampled_from(["linear", "square", "log"]),
)
def test_law_whatever_is_read_the_lamp_brightens_as_its_level_rises(
    lights: dict[float, float], law: str
) -> None:
    own = PANEL.model_copy(update={"dimming": law})
    darker = [read("red", light, level) for level, light in lights.items()]
    found = measured_profile(lamp(read("red", 100.0), *darker), own)
    Profile.model_validate(found.model_dump())  # its table rises strictly from 0 to 1
    course = laws_of([found] * 1001).output(np.linspace(0.0, 1.0, 1001, dtype=np.float64))
    assert (np.diff(course) >= 0.0).all() and course[0] == 0.0 and course[-1] == 1.0
