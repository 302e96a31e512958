"""A light as one line says it: what can be typed, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Misuse
from onecrew.language.light import Wanted, read_colour, read_light


@pytest.mark.parametrize(
    "text",
    ["", "abc", "150", "200%", "-", "x", "x .5", "x .7 .7", "h 400 10", "h 1", "t", "t 80", "nan", "=",
     "1e999", "=200", "50k", "0s", "99s", "5 500 3 ..", "inf"],
)  # fmt: skip
def test_nonsense_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        read_light(text)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("0", {"level": 0.0}),
        ("100", {"level": 1.0}),
        ("2.5 %".replace(" ", ""), {"level": 0.025}),
        ("15 56 +3", {"level": 0.15, "cct_k": 5600.0, "duv": 0.003}),
        ("15 5600 -0.0025", {"level": 0.15, "cct_k": 5600.0, "duv": -0.0025}),
        ("3.2k", {"cct_k": 3200.0}),
        ("3200K", {"cct_k": 3200.0}),
        ("-2s", {"stops_by": -2.0}),
        ("+1st", {"stops_by": 1.0}),
        ("=40", {"level": 0.4, "alike": True}),
        ("t 2", {"duv": 0.002}),
        ("t-2", {"duv": -0.002}),
        ("x .45, .41", {"xy": (0.45, 0.41)}),
        ("h 30 80", {"hue": (30.0, 0.8)}),
        ("2,5", {"level": 0.025}),
        ("−1", {"duv": -0.001}),
        ("22% 3400K +0.003", {"level": 0.22, "cct_k": 3400.0, "duv": 0.003}),
        ("2s", {"stops_by": 2.0}),
        ("+0.5s", {"stops_by": 0.5}),
        ("full 56", {"level": 1.0, "cct_k": 5600.0}),
    ],
)
def test_what_can_be_typed(text: str, fields: dict[str, Any]) -> None:
    wanted = read_light(text)
    for name in ("level", "cct_k", "duv", "xy", "hue", "stops_by"):
        expected = fields.get(name)
        assert getattr(wanted, name) == (pytest.approx(expected) if expected is not None else None)
    assert wanted.alike == fields.get("alike", False)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("half cto", {"mired_by": 109}),
        ("15 1/4 CTB", {"level": 0.15, "mired_by": -35}),
        ("cto 22%", {"level": 0.22, "mired_by": 159}),
        ("tungsten 15", {"level": 0.15, "cct_k": 3200, "duv": 0}),
        ("15 daylight", {"level": 0.15, "cct_k": 5600, "duv": 0.0033}),
        ("half plus green", {"duv_by": 0.0165}),
        ("half cto quarter minus green", {"mired_by": 109, "duv_by": -0.0083}),
        ("t +3", {"duv": 0.003}),
        ("h 30 80", {"hue": (30, 0.8)}),
        ("22 h 30 80", {"level": 0.22, "hue": (30, 0.8)}),
        ("h30 80 -1s", {"hue": (30, 0.8), "stops_by": -1}),
        ("x.45 .41 22", {"level": 0.22, "xy": (0.45, 0.41)}),
    ],
)
def test_colours_have_names(text: str, fields: dict[str, object]) -> None:
    wanted = read_light(text)
    said = {name: value for name in Wanted.__slots__ if (value := getattr(wanted, name)) is not None}
    assert said == {"alike": False, **fields}
    assert wanted.words()


@pytest.mark.parametrize(
    "text",
    [
        "candle daylight",
        "15 56 daylight",
        "half cto cto",
        "x .45 .41 half cto",
        "h 30 80 tungsten",
        "15 56 x .45 .41",
        "h 30 80 x .45 .41",
        "h 30 80 t 2",
        "t 2 half plus green h 1 1",
    ],
)
def test_a_colour_given_twice_is_refused(text: str) -> None:
    with pytest.raises(Misuse, match="given twice"):
        read_light(text)


@pytest.mark.parametrize("text", ["22 34 5 6", "22% 30%", "22 34 3400K", "-1s -2s", "22 34 +3 +4"])
def test_what_is_said_twice_is_refused(text: str) -> None:
    with pytest.raises(Misuse, match=r"once more|one number too many"):
        read_light(text)


@given(st.text(max_size=30))
def test_any_text_is_a_light_or_a_sentence(text: str) -> None:
    try:
        wanted = read_light(text)
    except Misuse as misuse:
        assert str(misuse).strip()
    else:
        assert wanted.words()


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("half cto", {"mired_by": 109}),
        ("daylight", {"cct_k": 5600, "duv": 0.0033}),
        ("H 30 80", {"hue": (30, 0.8)}),
        ("x .45 .41", {"xy": (0.45, 0.41)}),
        ("3400K +0.003", {"cct_k": 3400, "duv": 0.003}),
    ],
)
def test_a_colour_alone(text: str, fields: dict[str, object]) -> None:
    assert read_colour(text) == fields


@pytest.mark.parametrize("text", ["22", "22% daylight", "half cto -1s", "", "pink"])
def test_what_is_more_or_less_than_a_colour_is_refused(text: str) -> None:
    with pytest.raises(Misuse):
        read_colour(text)
