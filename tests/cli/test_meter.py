"""What a meter says, as people type it: any order, any units, and every doubt a sentence."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.cli.meter import Metered, metered
from onecrew.errors import Misuse


@pytest.mark.parametrize(
    "text",
    [
        "3150K -0.002 812lx",
        "-.002 812 3150",
        "812, -0.002, 3150",
        "3150,-0.002,812",
        "3150;-0,002;812",
        "3150 K  −0.002  812 lx",
        "cct 3150 duv -0.002 light 812",
        "CCT=3150 Duv=-0.002 lux=812",
        "l=812 d=-.002 k=3150",
        "tint: -0.002, 3150K, 812",
        "3150/-0.002/812",
    ],
)
def test_the_same_reading_in_many_ways(text: str) -> None:
    assert metered(text, 3200.0) == Metered(3150.0, -0.002, 812.0)


def test_light_may_be_left_out_and_may_be_any_size() -> None:
    assert metered("3150 .001", 3200.0) == Metered(3150.0, 0.001, None)
    assert metered("3150 +0.001 75fc", 3200.0).light == 75.0
    assert metered("5600 0.001 3000", 5500.0) == Metered(5600.0, 0.001, 3000.0)
    assert metered("3000 0.001 5600", 5500.0) == Metered(5600.0, 0.001, 3000.0)
    assert metered("3150 0.001 0.4lx", 3200.0).light == 0.4
    assert metered("3150 0 812", 3200.0) == Metered(3150.0, 0.0, 812.0)


def test_x_and_y_stand_for_the_white() -> None:
    # D65, (0.3127, 0.3290): 6504.3 K, Duv +0.0032 (computed with colour-science).
    read = metered("x=0.3127 y=0.3290 500", 6500.0)
    assert read == Metered(pytest.approx(6504.3, abs=0.2), pytest.approx(0.0032, abs=2e-5), 500.0)
    assert metered("x .3127 y .3290", 6500.0).light is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no colour temperature"),
        ("812", "no colour temperature"),
        ("0.43 0.40 812", r"x=\.4301 y=\.4012"),
        ("3150", "no Duv"),
        ("warm", "'warm' is not a number"),
        ("3150 -0.06", "out of range: -0.05 to 0.05"),
        ("30000K 0.001", "out of range: 1000 to 25000 K"),
        ("3150 2900 0.001", "which is the colour temperature, 3150 or 2900"),
        ("3150 0.01 0.02", "one number too many"),
        ("3150 0.01 812 30", "one number too many"),
        ("3150K 3200K 0.001", "gives the colour temperature twice"),
        ("3150K 0.002 1,200", "write 1200"),
        ("3150 0.002 0lx", "light is above 0"),
        ("x=.43 .40 812", "x and y come together"),
        ("x=.43 y=.40 3150K", "give the colour once"),
        ("x=.17 y=.02", "no white"),
    ],
)
def test_what_is_not_clear_is_asked_back(text: str, said: str) -> None:
    with pytest.raises(Misuse, match=said):
        metered(text, 3200.0)


@given(
    st.integers(2000, 10000),
    st.integers(-500, 500),
    st.integers(60, 900),
    st.permutations(range(3)),
    st.sampled_from([" ", ", ", ";", "\t"]),
)
def test_any_order_is_understood(cct_k: int, duv: int, light: int, order: list[int], divider: str) -> None:
    parts = (f"{cct_k}", f"{duv / 10000:+.4f}", f"{light}")
    text = divider.join(parts[place] for place in order)
    assert metered(text, float(cct_k) * 1.1) == Metered(
        float(cct_k), pytest.approx(duv / 10000), float(light)
    )


@given(st.text(max_size=40))
def test_no_text_does_more_than_ask_back(text: str) -> None:
    try:
        read = metered(text, 3200.0)
    except Misuse as mistake:
        assert str(mistake)
    else:
        assert 1000.0 <= read.cct_k <= 25000.0
        assert abs(read.duv) <= 0.05


def test_every_pair_of_labels_is_told_apart() -> None:
    words = {"cct": "cct=3150", "duv": "duv=.001", "light": "light=812"}
    for order in itertools.permutations(words):
        assert metered(" ".join(words[name] for name in order), 9000.0) == Metered(3150.0, 0.001, 812.0)
