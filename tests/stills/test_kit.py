"""Which lamps a match may give another white, and which mix them so that only the stills tell their light."""

from __future__ import annotations

import pytest

from onecrew.fixtures.describe import of_kind
from onecrew.stills.kit import Lamp
from tests.fakes.profiles import all_profiles


@pytest.mark.parametrize(
    ("kind", "one_colour"),
    [
        (("practical-dimmer", "8-bit"), True),
        (("red-lamp", "8-bit"), True),
        (("par-rgb", "8-bit"), False),
        (("panel-cct-tint", "8-bit"), False),
        (("cmy", "8-bit"), False),
        (("hsi", "8-bit"), False),
        (("xy", "16-bit"), False),
    ],
)
def test_a_lamp_that_can_be_told_a_white_is_asked_for_two(kind: tuple[str, str], one_colour: bool) -> None:
    profiles = all_profiles()
    lamp = Lamp(of_kind(profiles[kind[0]], kind[1]), profiles)
    assert lamp.one_colour == one_colour
    assert (lamp.range_k() is None) == one_colour
