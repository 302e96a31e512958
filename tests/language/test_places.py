"""Places and lengths as they are typed, and written back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Misuse
from onecrew.language.places import length, read_place, read_size, reflectance, write_place
from onecrew.show.show import Place


@pytest.mark.parametrize(
    ("text", "long"),
    [("1.8", 1.8), ("1.8 m", 1.8), ("180cm", 1.8), ("6ft", 1.8288), ("5' 11\"", 1.8034),
     ("5 ft 11 in", 1.8034),
     ("11\"", 0.2794), ("5′11″", 1.8034), ("-2'", -0.6096), ("0", 0.0)],
)  # fmt: skip
def test_metres_or_feet_and_inches(text: str, long: float) -> None:
    """1 ft = 0.3048 m, 1 in = 0.0254 m, exact (international yard and pound agreement of 1959)."""
    assert length(text, "x") == pytest.approx(long)


@pytest.mark.parametrize("text", ["", "far", "5'x", "1e3", "nan", "5 11"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(Misuse):
        length(text, "x")


tenths = st.integers(-100, 100).map(lambda n: n / 10)
maybe = st.none() | st.integers(0, 20).map(float)


@given(tenths, tenths, st.tuples(maybe, maybe, maybe, maybe), st.sampled_from([",", " "]))
def test_a_place_reads_back(
    x: float, y: float, rest: tuple[float | None, float | None, float | None, float | None], between: str
) -> None:
    height, aim, tilt, roll = rest
    place = Place(x_m=x, y_m=y, height_m=height, aim_deg=aim, tilt_deg=tilt, roll_deg=roll)
    assert read_place(write_place(place, between)) == place


def test_places_in_feet_with_a_height_that_is_not_known() -> None:
    found = read_place("2ft, 11'2\", -, 135°, -10")
    assert found is not None
    assert (found.x_m, found.y_m) == (pytest.approx(0.6096), pytest.approx(3.40360))
    assert (found.height_m, found.aim_deg, found.tilt_deg, found.roll_deg) == (None, 135.0, -10.0, None)
    assert read_place("none") is read_place("") is None


@pytest.mark.parametrize("text", ["1", "1,2,3,4,5,6,7", "-,2", "a,b", "1,2,30", "1,2,3,4,100"])
def test_what_is_no_place_is_refused(text: str) -> None:
    with pytest.raises(Misuse):
        read_place(text)


def test_sizes_and_surfaces() -> None:
    assert read_size("4x5x2.6", "the room", (3, 2)) == (4.0, 5.0, 2.6)
    assert read_size("6ft × 4 ft", "size", (2, 3)) == (pytest.approx(1.8288), pytest.approx(1.2192))
    assert [reflectance(text, "walls") for text in ("dark", "White", "40%", "0.4")] == [
        "dark",
        "white",
        0.4,
        0.4,
    ]
    for text in ("4", "4x5x6x7", "4x0"):
        with pytest.raises(Misuse):
            read_size(text, "the room", (3, 2))
    with pytest.raises(Misuse):
        reflectance("pale", "walls")
    with pytest.raises(Misuse):
        reflectance("120%", "walls")
