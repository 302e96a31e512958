"""Faders over the whites and tints of a lamp."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Mistake
from onecrew.osc.addresses import commands_of, find
from onecrew.osc.faders import CCT, MIXED_DUV, MIXED_K, TINT, Scale, scale_of
from onecrew.show.profiles import load_profiles
from tests.phone.shows import small_show

SCALE = Scale((2700.0, 6500.0), (-0.01, 0.02))


@given(st.floats(0.0, 1.0), st.sampled_from([CCT, TINT]))
def test_a_fader_stands_where_its_value_puts_it(share: float, fader: str) -> None:
    assert SCALE.share(fader, SCALE.value(fader, share, "a")) == pytest.approx(share, abs=1e-3)


def test_ends_middle_and_beyond() -> None:
    assert [SCALE.value(CCT, share, "a") for share in (0.0, 1.0)] == [2700.0, 6500.0]
    # Own arithmetic: half way in mired, 2e6 / (1e6/2700 + 1e6/6500).
    assert SCALE.value(CCT, 0.5, "a") == pytest.approx(3815.2, abs=0.1)
    assert [SCALE.value(TINT, share, "a") for share in (0.0, 0.5, 1.0)] == [-0.01, 0.0, 0.02]
    assert SCALE.share(CCT, 1800.0) == 0.0 and SCALE.share(CCT, 9000.0) == 1.0


def test_the_scale_is_that_of_the_lamp() -> None:
    profiles = load_profiles()
    for profile in profiles.values():
        for mode in profile.modes:
            scale = scale_of(mode)
            if mode.cct is not None and mode.cct.cct is not None:
                assert scale.whites == (mode.cct.cct.warmest_k, mode.cct.cct.coolest_k)
            else:
                assert scale.whites == (MIXED_K if mode.tells_colours else None)
            if mode.tint is None and mode.cct is None:
                assert scale.tints == (MIXED_DUV if mode.tells_colours else None)


def test_lamps_of_several_kinds_each_get_their_own_white() -> None:
    show = small_show()
    scales = {"edge": Scale((2000.0, 4000.0), None), "edge2": Scale((4000.0, 8000.0), None)}
    made = commands_of(find("/onecrew/light/edge*/cct-fader", show), (1.0, 2.0), show, scales.get)
    assert made == [
        {"kind": "set", "fixtures": ("edge",), "cct_k": 4000.0, "fade_s": 2.0},
        {"kind": "set", "fixtures": ("edge2",), "cct_k": 8000.0, "fade_s": 2.0},
    ]


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_beyond_its_ends_is_refused(share: float) -> None:
    show = small_show()
    with pytest.raises(Mistake):
        commands_of(find("/onecrew/light/tone/cct-fader", show), (share,), show, lambda _: SCALE)


def test_what_a_lamp_has_not_is_said() -> None:
    with pytest.raises(Mistake, match="bulb has no tint"):
        Scale((2700.0, 6500.0), None).value(TINT, 0.5, "bulb")
