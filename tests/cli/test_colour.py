"""Every number of a colour, against published values and arithmetic of the test's own."""

from __future__ import annotations

import math
import sys
import warnings
from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from onecrew.show.profiles import load_profiles
from tests.cli.conftest import Ended

Run = Callable[..., Ended]


@pytest.fixture(scope="module")
def colour() -> ModuleType:
    """colour-science, the optional extra."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
        import colour.quality

    return colour


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
def test_whites_on_the_locus(cct: str, x: float, y: float, u: float, v: float, onecrew: Run) -> None:
    facts = onecrew("colour", cct, "--json").json
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
def test_tint_moves_along_the_normal(cct: str, tint: str, x: float, y: float, onecrew: Run) -> None:
    facts = onecrew("colour", cct, "--tint", tint, "--json").json
    assert (facts["x"], facts["y"]) == pytest.approx((x, y), abs=2e-6)
    assert facts["duv"] == float(tint)


def test_a_chromaticity_gets_its_cct_and_duv(onecrew: Run) -> None:
    # D65 as video standards round it: 6504.34 K, Duv +0.003207 by colour-science.
    facts = onecrew("colour", "--xy", "0.3127,0.3290", "--json").json
    assert facts["cct_k"] == pytest.approx(6504.34, abs=0.1)
    assert facts["duv"] == pytest.approx(0.003207, abs=2e-6)


def test_a_saturated_colour_has_no_cct(onecrew: Run) -> None:
    ended = onecrew("colour", "--xy", "0.17,0.02", "--json")
    assert ended.status == 0
    assert (ended.json["cct_k"], ended.json["duv"]) == (None, None)
    assert "too far from the Planckian locus" in onecrew("colour", "--xy", "0.17,0.02").out


@pytest.mark.parametrize("mixing", ["most-light", "best-rendition"])
def test_drives_of_a_six_emitter_spot_give_the_colour(mixing: str, onecrew: Run) -> None:
    words = ["colour", "3200", "--tint", "+0.003", "--profile", "spot-six", "--mixing", mixing, "--json"]
    facts = onecrew(*words).json
    assert xy_of_mix(facts["drives"], "spot-six") == pytest.approx((facts["x"], facts["y"]), abs=1e-7)
    assert facts["reached"] == pytest.approx({"x": facts["x"], "y": facts["y"]}, abs=1e-7)
    assert (facts["off_by"], facts["notes"]) == (0.0, [])
    assert max(facts["drives"].values()) == pytest.approx(1.0)
    assert len(facts["slots"]) == 7


def test_a_level_goes_to_the_dimmer(onecrew: Run) -> None:
    facts = onecrew("colour", "4300", "--level", "15%", "--profile", "panel-cct-tint/16-bit", "--json").json
    assert (facts["level"], len(facts["slots"])) == (0.15, 6)
    # 0.15 × 65535 = 9830.25: half up (own convention).
    assert facts["slots"][0] * 256 + facts["slots"][1] == 9830


def test_what_the_rounding_of_slots_does_is_told(onecrew: Run) -> None:
    words = ["colour", "2800", "--profile", "bulb-rgbw", "--level", "2%"]
    facts = onecrew(*words, "--json").json
    emitters = load_profiles()["bulb-rgbw"].emitters
    steps = dict(zip(facts["drives"], facts["slots"], strict=True))
    u, v = uv76(xy_of_mix(steps, "bulb-rgbw"))
    assert len(steps) == len(emitters) == 4
    off = math.hypot(u - facts["u_prime"], v - facts["v_prime"])
    assert off > 0.001
    assert facts["rounding"] == pytest.approx(off, abs=1e-5)
    assert facts["off_by"] == pytest.approx(off, abs=1e-5)  # what is shown is what leaves
    assert (u, v) == pytest.approx(uv76((facts["reached"]["x"], facts["reached"]["y"])), abs=1e-5)
    assert any(f"{off:.4f}" in note or f"{off:.3f}" in note for note in facts["notes"])
    assert "rounding" in onecrew(*words).out
    fine = onecrew("colour", "2800", "--profile", "spot-six/16-bit", "--json").json
    assert fine["rounding"] < 1e-4 and fine["notes"] == []


def uv76(xy: tuple[float, float]) -> tuple[float, float]:
    """CIE 15:2004, 8.1."""
    x, y = xy
    return 4 * x / (-2 * x + 12 * y + 3), 9 * y / (-2 * x + 12 * y + 3)


def test_a_clamp_and_a_colour_out_of_reach_are_told(onecrew: Run) -> None:
    facts = onecrew("colour", "2000", "--profile", "panel-cct-tint", "--json").json
    assert facts["off_by"] > 0.04
    assert "2700 K" in facts["notes"][0]
    assert "note:" in onecrew("colour", "2000", "--profile", "panel-cct-tint").out


def test_even_light_gives_up_light_where_there_is_more_of_it(onecrew: Run) -> None:
    def output(cct: str, *more: str) -> float:
        drives = onecrew("colour", cct, "--profile", "spot-six", "--json", *more).json["drives"]
        emitters = load_profiles()["spot-six"].emitters
        return sum(emitters[name].flux * drive for name, drive in drives.items())

    assert output("4300", "--even") == pytest.approx(output("3200", "--even"), rel=1e-6)
    assert output("4300") > output("4300", "--even")


def test_a_lamp_is_white_at_its_own_balance_and_orange_at_daylight(onecrew: Run) -> None:
    assert onecrew("colour", "3200", "--wb", "3200", "--json").json["camera"] == "#ffffff"
    shade = onecrew("colour", "3200", "--wb", "5600", "--json").json["camera"]
    red, green, blue = (int(shade[at : at + 2], 16) for at in (1, 3, 5))
    assert red > green > blue


def test_the_nearest_gel_from_the_white_balance(onecrew: Run) -> None:
    # Swatch book of LEE Filters: 204 full CTO, 6500 K → 3200 K; 201 full CTB, 3200 K → 5700 K.
    assert onecrew("colour", "3200", "--wb", "6500", "--json").json["gel"]["nearest"] == ["full CTO"]
    assert onecrew("colour", "5700", "--wb", "3200", "--json").json["gel"]["nearest"] == ["full CTB"]
    assert onecrew("colour", "5600", "--wb", "5600", "--json").json["gel"]["nearest"] == []


def test_the_lines_to_read_hold_the_same_numbers(onecrew: Run) -> None:
    out = onecrew("colour", "3200", "--profile", "spot-six/16-bit", "--level", "15%").out
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


# ── Rendition, and what best rendition costs ────────────────────────────────────────────────────────────────


@pytest.mark.filterwarnings("ignore:Aligning")
def test_the_rendition_of_a_mix_is_that_of_its_emitters_added_up(onecrew: Run, colour: ModuleType) -> None:
    """The spectrum is put together here by hand and judged by colour-science alone."""
    facts = onecrew("colour", "3200", "--profile", "spot-six", "--mixing", "best-rendition", "--json").json
    nm = np.arange(360.0, 831.0)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].values
    power = np.zeros(471)
    for name, drive in facts["drives"].items():
        emitter = load_profiles()["spot-six"].emitters[name]
        bells = [b.share * 2.0 ** (-(((nm - b.peak_nm) / (b.fwhm_nm / 2)) ** 2)) for b in emitter.spectrum]
        power += drive * emitter.flux * sum(bells) / (sum(bells) @ cmfs[:, 1])
    mixed = colour.SpectralDistribution(dict(zip(nm[20:421:5], power[20:421:5], strict=True)))
    found = facts["rendition"]
    assert found["ra"] == pytest.approx(colour.colour_rendering_index(mixed), abs=0.02)
    tm30 = colour.quality.colour_fidelity_index_ANSIIESTM3018(mixed, additional_data=True)
    assert (found["rf"], found["rg"]) == pytest.approx((tm30.R_f, tm30.R_g), abs=0.02)
    # SSI against the Planckian radiator of the rounded CCT, as SMPTE ST 2122 takes it below 4000 K.
    shape = colour.SpectralShape(360, 830, 1)
    aim = colour.sd_blackbody(round(found["cct_k"]), shape)
    assert found["ssi"] == colour.spectral_similarity_index(colour.SpectralDistribution(power, shape), aim)
    assert found["cct_k"] == pytest.approx(3200.0, abs=5.0)


def test_spectra_are_called_typical_wherever_they_are_used(onecrew: Run) -> None:
    words = ("colour", "4300", "--profile", "panel-rgbww")
    assert "typical and not measured" in onecrew(*words).out
    assert "typical and not measured" in onecrew(*words, "--json").json["rendition_note"]
    assert "typical, not measured" in " ".join(onecrew("colour", "--help").out.split())


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("3200", "--profile", "panel-cct-tint"), "mixes its whites inside"),
        (("--xy", "0.2,0.7", "--profile", "spot-six"), "this light is no white"),
    ],
)
def test_where_there_is_no_rendition_the_reason_is_told(
    words: tuple[str, ...], why: str, onecrew: Run
) -> None:
    facts = onecrew("colour", *words, "--json").json
    assert facts["rendition"] is None
    assert why in facts["rendition_note"]
    assert f"not known: {facts['rendition_note']}" in onecrew("colour", *words).out


def test_without_the_extra_the_rest_is_there_and_a_sentence_says_how_to_get_it(
    onecrew: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "colour", None)  # as if it were not installed
    ended = onecrew("colour", "3200", "--profile", "spot-six")
    assert (ended.status, ended.err) == (0, "")
    assert "slots" in ended.out
    assert "pip install 'onecrew[spectral]'" in ended.out
    assert onecrew("colour", "3200", "--profile", "spot-six", "--json").json["rendition"] is None


def test_it_can_be_left_out(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "colour", None)
    facts = onecrew("colour", "3200", "--profile", "spot-six", "--no-rendition", "--json").json
    assert (facts["rendition"], facts["rendition_note"]) == (None, "")


def test_what_best_rendition_costs_is_told_in_stops(onecrew: Run) -> None:
    def facts(mixing: str) -> dict[str, Any]:
        words = ("colour", "5600", "--profile", "spot-six", "--mixing", mixing, "--no-rendition", "--json")
        return dict(onecrew(*words).json)

    def light(drives: dict[str, float]) -> float:
        emitters = load_profiles()["spot-six"].emitters
        return sum(emitters[name].flux * drive for name, drive in drives.items())

    bright, true = facts("most-light"), facts("best-rendition")
    lost = math.log2(light(bright["drives"]) / light(true["drives"]))
    assert bright["best_rendition_stops"] == true["best_rendition_stops"] == pytest.approx(lost, abs=1e-9)
    assert f"costs {lost:.2f} stops" in onecrew(
        "colour", "5600", "--profile", "spot-six", "--mixing", "best-rendition", "--no-rendition"
    ).out  # fmt: skip
    assert (
        onecrew("colour", "5600", "--profile", "panel-cct-tint", "--json").json["best_rendition_stops"]
        is None
    )


def test_the_darkest_level_is_that_of_the_first_slot_to_show(onecrew: Run) -> None:
    def slots(level: float) -> int:
        words = ("colour", "4300", "--profile", "bulb-rgbww", "--level", f"{100 * level:.6f}%")
        return int(onecrew(*words, "--no-rendition", "--json").json["slots"][0])

    darkest = onecrew("colour", "4300", "--profile", "bulb-rgbww", "--json").json["darkest_level"]
    # 16 of 255 steps of the emitters under the first of the dimmer, by the square law.
    assert darkest == pytest.approx((16 / 255) ** 0.5 / 255)
    assert (slots(0.49 * darkest), slots(0.51 * darkest), slots(darkest)) == (0, 1, 1)
