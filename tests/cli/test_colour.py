"""Every number of a colour, against published values and arithmetic of the test's own."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from controller.documents.profiles import load_profiles
from tests.cli.conftest import Ended

Run = Callable[..., Ended]


def xy_of_mix(drives: dict[str, float], profile: str) -> tuple[float, float]:
    """Chromaticity of emitters together: the sum of flux · (x/y, 1, (1−x−y)/y) as XYZ (CIE 15)."""
    emitters = load_profiles()[profile].emitters
    x_sum = y_sum = z_sum = 0.0
    for name, drive in drives.items():
        (x, y), flux = emitters[name].xy, emitters[name].flux * drive
        x_sum, y_sum, z_sum = x_sum + flux * x / y, y_sum + flux, z_sum + flux * (1 - x - y) / y
    whole = x_sum + y_sum + z_sum
    return x_sum / whole, y_sum / whole


# Planckian locus, CIE 1931 2° CMFs 1 nm 360–830 nm, c2 = 1.4388e-2 m·K: computed with numpy on the CMFs of
# colour-science 0.4.7, luxpy agrees in every digit.
@pytest.mark.parametrize(
    ("cct", "x", "y", "u", "v"),
    [
        ("2800", 0.451860, 0.408631, 0.258211, 0.350263),
        ("3200K", 0.423363, 0.398953, 0.243988, 0.344881),
        ("5600", 0.330200, 0.339081, 0.206099, 0.317463),
        ("10000", 0.280634, 0.288289, 0.190319, 0.293265),
    ],
)
def test_whites_on_the_locus(cct: str, x: float, y: float, u: float, v: float, lampwright: Run) -> None:
    facts = lampwright("colour", cct, "--json").json
    assert [facts[key] for key in ("x", "y", "u", "v")] == pytest.approx([x, y, u, v], abs=1e-6)
    assert facts["u_prime"] == facts["u"]
    assert facts["v_prime"] == pytest.approx(1.5 * v, abs=2e-6)
    assert facts["mired"] == pytest.approx(1e6 / facts["cct_k"])


# (CCT, Duv) → xy along the normal of the locus in uv 1960: computed with numpy, its exact inverse checked.
@pytest.mark.parametrize(
    ("cct", "tint", "x", "y"),
    [
        ("3200", "+0.001", 0.424655, 0.401899),
        ("4300", "-0.003", 0.366574, 0.361495),
        ("5600", "-0.01", 0.330345, 0.320486),
    ],
)
def test_tint_moves_along_the_normal(cct: str, tint: str, x: float, y: float, lampwright: Run) -> None:
    facts = lampwright("colour", cct, "--tint", tint, "--json").json
    assert (facts["x"], facts["y"]) == pytest.approx((x, y), abs=2e-6)
    assert facts["duv"] == float(tint)


def test_a_chromaticity_gets_its_cct_and_duv(lampwright: Run) -> None:
    # D65 as video standards round it: 6504.34 K, Duv +0.003207 by colour-science.
    facts = lampwright("colour", "--xy", "0.3127,0.3290", "--json").json
    assert facts["cct_k"] == pytest.approx(6504.34, abs=0.1)
    assert facts["duv"] == pytest.approx(0.003207, abs=2e-6)


def test_a_saturated_colour_has_no_cct(lampwright: Run) -> None:
    ended = lampwright("colour", "--xy", "0.17,0.02", "--json")
    assert ended.status == 0
    assert (ended.json["cct_k"], ended.json["duv"]) == (None, None)
    assert "too far from the Planckian locus" in lampwright("colour", "--xy", "0.17,0.02").out


@pytest.mark.parametrize("mixing", ["brightest", "truest"])
def test_drives_of_a_six_emitter_spot_give_the_colour(mixing: str, lampwright: Run) -> None:
    words = ["colour", "3200", "--tint", "+0.003", "--profile", "spot-six", "--mixing", mixing, "--json"]
    facts = lampwright(*words).json
    assert xy_of_mix(facts["drives"], "spot-six") == pytest.approx((facts["x"], facts["y"]), abs=1e-7)
    assert facts["reached"] == pytest.approx({"x": facts["x"], "y": facts["y"]}, abs=1e-7)
    assert (facts["off_by"], facts["notes"]) == (0.0, [])
    assert max(facts["drives"].values()) == pytest.approx(1.0)
    assert len(facts["slots"]) == 7


def test_a_level_goes_to_the_dimmer(lampwright: Run) -> None:
    facts = lampwright(
        "colour", "4300", "--level", "15%", "--profile", "panel-cct-tint/16-bit", "--json"
    ).json
    assert (facts["level"], len(facts["slots"])) == (0.15, 6)
    # 0.15 × 65535 = 9830.25: half up (GDTF 1.2 convention for channel values).
    assert facts["slots"][0] * 256 + facts["slots"][1] == 9830


def test_a_clamp_and_a_colour_out_of_reach_are_told(lampwright: Run) -> None:
    facts = lampwright("colour", "2000", "--profile", "panel-cct-tint", "--json").json
    assert facts["off_by"] > 0.04
    assert "2700 K" in facts["notes"][0]
    assert "note:" in lampwright("colour", "2000", "--profile", "panel-cct-tint").out


def test_even_light_gives_up_light_where_there_is_more_of_it(lampwright: Run) -> None:
    def output(cct: str, *more: str) -> float:
        drives = lampwright("colour", cct, "--profile", "spot-six", "--json", *more).json["drives"]
        emitters = load_profiles()["spot-six"].emitters
        return sum(emitters[name].flux * drive for name, drive in drives.items())

    assert output("4300", "--even") == pytest.approx(output("3200", "--even"), rel=1e-6)
    assert output("4300") > output("4300", "--even")


def test_a_lamp_is_white_at_its_own_balance_and_orange_at_daylight(lampwright: Run) -> None:
    assert lampwright("colour", "3200", "--wb", "3200", "--json").json["camera"] == "#ffffff"
    shade = lampwright("colour", "3200", "--wb", "5600", "--json").json["camera"]
    red, green, blue = (int(shade[at : at + 2], 16) for at in (1, 3, 5))
    assert red > green > blue


def test_the_nearest_gel_from_the_white_balance(lampwright: Run) -> None:
    # Swatch book of LEE Filters: 204 full CTO, 6500 K → 3200 K; 201 full CTB, 3200 K → 5700 K.
    assert lampwright("colour", "3200", "--wb", "6500", "--json").json["gel"]["nearest"] == ["full CTO"]
    assert lampwright("colour", "5700", "--wb", "3200", "--json").json["gel"]["nearest"] == ["full CTB"]
    assert lampwright("colour", "5600", "--wb", "5600", "--json").json["gel"]["nearest"] == []


def test_the_lines_to_read_hold_the_same_numbers(lampwright: Run) -> None:
    out = lampwright("colour", "3200", "--profile", "spot-six/16-bit", "--level", "15%").out
    for shown in (
        "3200.0 K",
        "312.5 mired",
        "0.423363",
        "0.398953",
        "0.344881",
        "0.517321",
        "15.00 %",
        "spot-six/16-bit",
    ):
        assert shown in out
