"""The demo's comparison passes what rounding can do, and nothing beyond it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.cli.demo_compare import Allowed, allowed, steady, swaying
from onecrew.cli.looks import frames_of_cues
from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.report import FixtureReport
from onecrew.show.light import Effect, Light, White
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Cue, Fixture, Rig, Show

PROFILES = load_profiles()
MODES = [(profile.id, mode.name) for profile in PROFILES.values() for mode in profile.modes]


def seen_and_asked(
    profile: str, mode: str, light: Light, nudge: tuple[int, int] | None = None
) -> tuple[FixtureReport, Seen, Allowed]:
    """What is asked, what the slots give and what is allowed; ``nudge`` adds to one slot on the way."""
    fixture = Fixture(id="lamp", profile=profile, mode=mode, universe=1, address=1, role="key")
    show = Show(name="One", rig=Rig(fixtures=(fixture,)), cues=(Cue(number="1", look={"lamp": light}),))
    [(_, frame)] = frames_of_cues(show, PROFILES)
    encoder = Encoder((fixture,), PROFILES)
    slots = bytearray(encoder.encode(frame)[0].tobytes())
    if nudge is not None:
        at, by = nudge
        slots[at] += by
    wire = {1: bytes(slots)}
    seen = Decoder((fixture,), PROFILES).decode(wire)[0]
    return encoder.report(frame, 5600.0)[0], seen, allowed(fixture, PROFILES, wire)


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(MODES),
    level=st.sampled_from([0.0, 0.003, 0.02, 0.15, 0.5, 0.77, 1.0]),
    cct_k=st.floats(2200.0, 9000.0),
    duv=st.floats(-0.01, 0.01),
)
def test_what_the_encoder_sends_is_as_asked(
    kind: tuple[str, str], level: float, cct_k: float, duv: float
) -> None:
    light = Light(level=level, white=White(cct_k=cct_k, duv=duv))
    verdict = steady(*seen_and_asked(*kind, light))
    assert verdict.ok, verdict.words


@pytest.mark.parametrize(
    ("profile", "mode", "nudge", "what"),
    [
        ("panel-cct-tint", "8-bit", (0, 2), "LEVEL OFF"),
        ("panel-cct-tint", "8-bit", (1, 2), "COLOUR OFF"),
        ("panel-cct-tint", "16-bit", (0, 1), "LEVEL OFF"),
        ("panel-bicolour", "16-bit", (1, 3), "OFF"),
        ("spot-six", "16-bit", (2, -1), "OFF"),
        ("spot-six", "16-bit", (0, 1), "LEVEL OFF"),
    ],
)
def test_a_slot_that_is_off_by_steps_is_found(
    profile: str, mode: str, nudge: tuple[int, int], what: str
) -> None:
    light = Light(level=0.5, white=White(cct_k=4000.0))
    assert steady(*seen_and_asked(profile, mode, light)).ok
    verdict = steady(*seen_and_asked(profile, mode, light, nudge))
    assert not verdict.ok
    assert what in verdict.words


def test_a_dark_lamp_where_light_is_asked_is_found() -> None:
    asked, seen, may = seen_and_asked("spot-daylight", "8-bit", Light(level=0.5))
    assert not steady(asked, replace(seen, level=0.0, output=0.0), may).ok


def test_light_where_darkness_is_asked_is_found() -> None:
    asked, seen, may = seen_and_asked("spot-daylight", "8-bit", Light(level=0.0))
    assert steady(asked, seen, may).ok
    assert not steady(asked, replace(seen, level=1 / 255, output=1 / 255), may).ok


def test_the_nearest_colour_of_a_lamp_passes_and_says_so() -> None:
    verdict = steady(*seen_and_asked("panel-bicolour", "16-bit", Light(level=0.5, white=White(cct_k=2000.0))))
    assert verdict.ok
    assert "its nearest colour" in verdict.words


def test_an_effect_may_take_light_by_its_depth_and_no_more() -> None:
    effect = Effect(kind="flame", depth=0.4)
    asked, seen, may = seen_and_asked("bulb-rgbww", "8-bit", Light(level=0.5, white=White(cct_k=2700.0)))

    def verdict(*outputs: float) -> bool:
        readings = [replace(seen, output=asked.output * share) for share in outputs]
        return swaying(asked, readings, may, effect, guarded=True).ok

    assert verdict(1.0, 0.8, 0.6)
    assert not verdict(1.0, 0.5)
    assert not verdict(1.1)
