"""The shipped profiles are of a piece: chromaticities agree with their spectra, and the whites a set needs
lie inside what the colour-mixing kinds reach.

Chromaticities are checked against colour-science: its CIE 1931 2° colour-matching functions and its Planckian
radiator. How a bell's width is meant: a Gaussian's full width at half maximum is 2·sqrt(2·ln 2)·σ.
"""

from __future__ import annotations

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from onecrew.show.profile import Emitter, Profile
from tests.show.shows import PROFILES

Array = NDArray[np.float64]

CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
NM: Array = np.asarray(CMFS.wavelengths, dtype=float)
BARS: Array = np.asarray(CMFS.values, dtype=float)
MIXING = [
    "bar-rgba", "bulb-rgbw", "bulb-rgbww", "panel-cct-rgb", "panel-rgbww", "par-rgb", "spot-six",
    "tube-rgbw-16", "tube-rgbww-8",
]  # fmt: skip


def uv60(xyz: Array) -> Array:
    """CIE 1960 (u, v) of tristimulus values."""
    x, y, z = np.moveaxis(xyz, -1, 0)
    whole = x + 15 * y + 3 * z
    return np.stack([4 * x / whole, 6 * y / whole], axis=-1)


def uv60_of_xy(x: float, y: float) -> Array:
    return uv60(np.array([x / y, 1.0, (1 - x - y) / y]))


def distance_uv76(one: Array, other: Array) -> float:
    """Δu′v′: u′ = u, v′ = 1.5 v (CIE 15)."""
    return float(np.linalg.norm((one - other) * [1.0, 1.5]))


def white(cct_k: float, duv: float) -> Array:
    """CIE 1960 (u, v) of a white, by colour-science after Ohno 2013."""
    return np.asarray(colour.temperature.CCT_to_uv_Ohno2013(np.array([cct_k, duv]), CMFS), dtype=float)


def spectrum(emitter: Emitter) -> Array:
    bells = [
        bell.share * np.exp(-4 * np.log(2) * ((NM - bell.peak_nm) / bell.fwhm_nm) ** 2)
        for bell in emitter.spectrum
    ]
    return np.asarray(np.sum(bells, axis=0), dtype=float)


def gamut(profile: Profile) -> Array:
    return np.array([uv60_of_xy(*emitter.xy) for emitter in profile.emitters.values()])


def inside(points: Array, target: Array) -> bool:
    """Whether the target lies in the convex hull: seen from it, no gap between points is a half turn."""
    angles = np.sort(np.arctan2(*(points - target).T[::-1]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
    return bool(gaps.max() <= np.pi + 1e-9)


EMITTERS = [
    pytest.param(emitter, id=f"{profile.id}-{name}")
    for profile in PROFILES.values()
    for name, emitter in profile.emitters.items()
    if emitter.spectrum
]


@pytest.mark.parametrize("emitter", EMITTERS)
def test_the_chromaticity_of_an_emitter_is_that_of_its_spectrum(emitter: Emitter) -> None:
    computed = uv60(spectrum(emitter) @ BARS)
    assert distance_uv76(computed, uv60_of_xy(*emitter.xy)) < 0.001


WHITES_K = [2000.0, 2200.0, 2700.0, 3200.0, 4300.0, 5600.0, 6500.0, 10000.0]


def green_limit(cct_k: float) -> float:
    """The Duv up to 0.02 that a kind must reach: below 3000 K no light at all has much, so half of that.

    The bound is the spectrum locus: past it lies no colour, 0.0104 above the Planckian locus at 2000 K.
    """
    visible = uv60(BARS[(NM >= 400) & (NM <= 700)])
    steps = np.linspace(0.0, 0.05, 251)
    most = max(duv for duv in steps if inside(visible, white(cct_k, duv)))
    return min(0.02, 0.5 * float(most))


@pytest.mark.parametrize("cct_k", WHITES_K)
def test_the_mixing_kinds_reach_the_whites_of_a_set(cct_k: float) -> None:
    green = green_limit(cct_k)
    for name in MIXING:
        points = gamut(PROFILES[name])
        for duv in (-0.02, -0.01, 0.0, green):
            assert inside(points, white(cct_k, duv)), f"{name} misses {cct_k:g} K, Duv {duv:+.4f}"


def test_from_3000_k_on_they_reach_the_whole_of_duv_0_02() -> None:
    assert green_limit(4300.0) == 0.02
    for name in MIXING:
        for cct_k in (3000.0, 3200.0):
            assert inside(gamut(PROFILES[name]), white(cct_k, 0.02)), name
    assert inside(gamut(PROFILES["spot-six"]), white(2700.0, 0.02))


def test_inside_is_told_from_outside() -> None:
    triangle = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    assert inside(triangle, np.array([0.2, 0.2]))
    assert not inside(triangle, np.array([0.6, 0.6]))
    assert not inside(triangle, np.array([-0.1, 0.5]))


@pytest.mark.parametrize(
    ("profile", "emitter", "cct_k", "duv"),
    [
        ("practical-dimmer", "bulb", 2700.0, 0.0),
        ("spot-daylight", "daylight", 5600.0, 0.003),
        ("panel-bicolour", "warm", 2700.0, 0.0),
        ("panel-bicolour", "cool", 6500.0, 0.001),
        ("bulb-rgbw", "white", 3000.0, 0.0),
        ("tube-rgbww-8", "warm", 2700.0, 0.0),
        ("tube-rgbww-8", "cool", 6500.0, 0.001),
    ],
)
def test_a_white_emitter_has_the_white_that_its_file_says(
    profile: str, emitter: str, cct_k: float, duv: float
) -> None:
    said = uv60_of_xy(*PROFILES[profile].emitters[emitter].xy)
    assert distance_uv76(said, white(cct_k, duv)) < 0.001


@pytest.mark.parametrize(
    ("profile", "widths"),
    [
        ("practical-dimmer", {"8-bit": 1}),
        ("panel-bicolour", {"8-bit": 2, "16-bit": 4}),
        ("panel-cct-tint", {"8-bit": 3, "16-bit": 6}),
        ("panel-rgbww", {"8-bit": 6, "16-bit": 12}),
        ("bulb-rgbw", {"8-bit": 4}),
        ("bulb-rgbww", {"8-bit": 6, "white": 2}),
        ("tube-rgbww-8", {"8-segment": 40, "16-bit": 10}),
        ("spot-six", {"8-bit": 7, "16-bit": 14}),
        ("spot-daylight", {"8-bit": 1, "16-bit": 2}),
        ("par-rgb", {"8-bit": 3, "dimmer": 4, "16-bit": 6}),
        ("bar-rgba", {"8-bit": 4, "dimmer": 5, "4-segment": 16, "16-bit": 10}),
        ("panel-cct-rgb", {"8-bit": 9, "16-bit": 18, "white": 3}),
        ("panel-hsi", {"hsi": 3, "cct-hsi": 5, "16-bit": 10}),
        ("panel-tint-steps", {"8-bit": 3, "16-bit": 5}),
        (
            "tube-rgbw-16",
            {
                "8-bit": 4,
                "16-bit": 8,
                "4-segment": 17,
                "8-segment": 33,
                "16-segment": 65,
                "16-segment-16-bit": 130,
            },
        ),
    ],
)
def test_every_mode_takes_the_slots_that_its_channels_add_up_to(profile: str, widths: dict[str, int]) -> None:
    assert {mode.name: mode.width for mode in PROFILES[profile].modes} == widths


def test_every_file_says_that_its_figures_are_invented() -> None:
    for profile in PROFILES.values():
        assert "invented" in profile.note.casefold(), profile.id
        assert "invented" in PROFILES.files[profile.id].read_text(encoding="utf-8").split("name =")[0]
