"""Transfer curves against colour-science 0.4 and the published values beside each check."""

from __future__ import annotations

from collections.abc import Iterator

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Mistake
from onecrew.stills.transfer import CURVES, curve_called, from_points

IN_LIBRARY = {
    "ACEScct": "ACEScct",
    "LogC3": "ARRI LogC3",
    "LogC4": "ARRI LogC4",
    "S-Log": "S-Log",
    "S-Log2": "S-Log2",
    "S-Log3": "S-Log3",
    "V-Log": "V-Log",
    "Canon Log": "Canon Log",
    "Canon Log 2": "Canon Log 2",
    "Canon Log 3": "Canon Log 3",
    "F-Log": "F-Log",
    "F-Log2": "F-Log2",
    "N-Log": "N-Log",
    "D-Log": "D-Log",
    "L-Log": "L-Log",
    "Log3G10": "Log3G10",
    "Apple Log": "Apple Log Profile",
}
LIGHT = np.concatenate(([0.0], np.geomspace(1e-4, 4.0, 60)))


@pytest.fixture(autouse=True)
def both_branches() -> Iterator[None]:
    """The library works out both branches of a curve everywhere, also where one has no value."""
    with np.errstate(invalid="ignore", divide="ignore"):
        yield


@pytest.mark.parametrize("name", IN_LIBRARY)
def test_a_log_curve_encodes_as_colour_science_does(name: str) -> None:
    expected = colour.log_encoding(LIGHT, function=IN_LIBRARY[name])
    np.testing.assert_allclose(curve_called(name).encode(LIGHT), expected, atol=4e-5)


@pytest.mark.parametrize("name", IN_LIBRARY)
def test_a_log_curve_decodes_as_colour_science_does(name: str) -> None:
    codes = colour.log_encoding(LIGHT, function=IN_LIBRARY[name])
    np.testing.assert_allclose(curve_called(name).decode(codes), LIGHT, rtol=2e-4, atol=1e-5)


@pytest.mark.parametrize(
    ("name", "theirs"),
    [("sRGB", "sRGB"), ("BT.709", "ITU-R BT.709"), ("HLG", "ITU-R BT.2100 HLG")],
)
def test_a_broadcast_curve_is_as_colour_science_has_it(name: str, theirs: str) -> None:
    light = np.linspace(0.0, 1.0, 101)
    codes = colour.oetf(light, function=theirs) if name != "sRGB" else colour.models.eotf_inverse_sRGB(light)
    np.testing.assert_allclose(curve_called(name).encode(light), codes, atol=3e-4)
    np.testing.assert_allclose(curve_called(name).decode(codes), light, atol=3e-4)


def test_pq_and_bt_1886_are_as_colour_science_has_them() -> None:
    codes = np.linspace(0.0, 1.0, 51)
    np.testing.assert_allclose(
        curve_called("PQ").decode(codes) * 100.0, colour.models.eotf_ST2084(codes), rtol=1e-6, atol=1e-9
    )
    np.testing.assert_allclose(
        curve_called("BT.1886").decode(codes), colour.models.eotf_BT1886(codes), atol=1e-9
    )


@pytest.mark.parametrize(
    ("name", "light", "code"),
    [
        ("sRGB", 0.18, 0.46136),  # IEC 61966-2-1, by colour-science
        ("BT.709", 0.18, 0.40901),  # ITU-R BT.709, by colour-science
        ("S-Log3", 0.18, 420.0 / 1023.0),  # the curve's own definition
        ("V-Log", 0.18, 433.0 / 1023.0),  # 433 in 10 bits, its reference manual
        ("LogC3", 0.18, 400.0 / 1023.0),  # 400 in 10 bits at EI 800
    ],
)
def test_grey_lies_where_its_definition_says(name: str, light: float, code: float) -> None:
    assert float(curve_called(name).encode(light)) == pytest.approx(code, abs=6e-4)


@given(st.sampled_from(sorted(CURVES)), st.floats(0.02, 0.98))
def test_decoding_and_encoding_are_opposites(key: str, code: float) -> None:
    curve = CURVES[key]
    assert float(curve.encode(curve.decode(code))) == pytest.approx(code, abs=2e-3)


@given(st.sampled_from(sorted(CURVES)), st.floats(0.0, 0.99), st.floats(0.001, 0.01))
def test_more_code_is_more_light(key: str, code: float, more: float) -> None:
    assert CURVES[key].decode(code + more) > CURVES[key].decode(code)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("s-log 3", "S-Log3"), ("SLOG3", "S-Log3"), ("Canon Log 3", "Canon Log 3"), ("raw", "linear"),
        ("rec709", "BT.709"), ("Rec.709", "BT.709"),
        ("Rec.2020", "BT.709"), ("BT.2020", "BT.709"),  # ITU-R BT.2020-2, table 4: the curve of BT.709
        ("Rec.1886", "BT.1886"), ("gamma 2.4", "BT.1886"),  # ITU-R BT.1886, annex 1: a power of 2.4
        ("SMPTE ST 2084", "PQ"), ("BT.2100 HLG", "HLG"), ("ARIB STD-B67", "HLG"),  # ITU-R BT.2100
        ("ARRI LogC3", "LogC3"), ("Log C", "LogC3"), ("C-Log", "Canon Log"), ("C-Log2", "Canon Log 2"),
        ("C-Log3", "Canon Log 3"), ("Apple Log Profile", "Apple Log"),
    ],
)  # fmt: skip
def test_a_name_is_found_however_it_is_spelled(said: str, name: str) -> None:
    assert curve_called(said).name == name


@pytest.mark.parametrize(("name", "power"), [("gamma 2.2", 2.2), ("gamma 2.6", 2.6), ("BT.1886", 2.4)])
def test_a_gamma_is_the_power_that_it_is_called_by(name: str, power: float) -> None:
    assert float(curve_called(name).decode(0.5)) == pytest.approx(0.5**power)


@pytest.mark.parametrize("key", sorted(CURVES))
def test_less_code_than_black_is_not_more_light(key: str) -> None:
    assert (np.diff(CURVES[key].decode(np.linspace(-0.1, 0.1, 41))) >= 0.0).all()


def test_a_curve_that_only_colour_science_has_is_taken_from_there() -> None:
    assert float(curve_called("Cineon").decode(0.5)) == pytest.approx(
        float(colour.log_decoding(0.5, function="Cineon"))
    )


def test_a_curve_that_nobody_knows_is_named_with_those_there_are() -> None:
    with pytest.raises(Mistake, match=r"no curve 'velvet'.*sRGB.*ladder"):
        curve_called("velvet")


def test_points_make_a_curve() -> None:
    curve = from_points("mine", [0.0, 0.5, 1.0], [0.0, 0.1, 1.0])
    assert float(curve.decode(0.75)) == pytest.approx(0.55)
    assert float(curve.encode(0.1)) == pytest.approx(0.5)
