"""A light as one line says it: what can be typed, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Misuse
from onecrew.language.light import Wanted, read_light, write_light


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


TENTHS = st.integers(0, 1000).map(lambda tenths: tenths / 1000)
LIGHTS = st.one_of(
    st.builds(
        Wanted,
        level=TENTHS,
        alike=st.booleans(),
        cct_k=st.none() | st.integers(1000, 25000).map(float),
        duv=st.none() | st.integers(-500, 500).map(lambda n: n / 10000),
        stops_by=st.none() | st.sampled_from([-15.0, -0.5, 0.25, 3.0]),
    ),
    st.builds(Wanted, xy=st.just((0.45, 0.41)) | st.just((0.1532, 0.0613))),
    st.builds(Wanted, hue=st.tuples(st.integers(0, 360).map(float), TENTHS)),
)


@given(LIGHTS)
def test_what_is_written_is_read_back(wanted: Wanted) -> None:
    read = read_light(write_light(wanted))
    for name in ("level", "alike", "cct_k", "duv", "stops_by", "xy", "hue"):
        value = getattr(wanted, name)
        assert getattr(read, name) == (value if value is None else pytest.approx(value, abs=1e-9))


@given(st.text(max_size=30))
def test_any_text_is_a_light_or_a_sentence(text: str) -> None:
    try:
        wanted = read_light(text)
    except Misuse as misuse:
        assert str(misuse).strip()
    else:
        assert wanted.words()
