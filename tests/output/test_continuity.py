"""No lamp jumps along a fade: whatever it is mixed by, with even output, with readings, at every clamp.

Drives and light are followed before the rounding of slots, which is a step by itself. The chase closes in on
the worst step of a random fade: a continuous path shrinks it away, a jump stays however short the step.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from controller.documents.show import Reading
from controller.output.encoder import Encoder
from controller.playback.frame import Frame
from tests.fakes.profiles import all_profiles, rig

READINGS = (
    Reading(asked_cct_k=2800, measured_cct_k=2700, measured_duv=0.003, light=500),
    Reading(asked_cct_k=4000, measured_cct_k=4050, measured_duv=0.0, light=640),
    Reading(asked_cct_k=4000, asked_duv=0.01, measured_cct_k=4100, measured_duv=0.012, light=620),
    Reading(asked_cct_k=5600, measured_cct_k=5900, measured_duv=-0.002, light=700),
)
KINDS = [
    ("spot-six", "16-bit", "brightest"),
    ("spot-six", "16-bit", "truest"),
    ("panel-rgbww", "16-bit", "brightest"),
    ("panel-rgbww", "16-bit", "truest"),
    ("panel-bicolour", "16-bit", "brightest"),
    ("bulb-rgbw", "8-bit", "truest"),
    ("four-whites", "16-bit", "brightest"),
    ("panel-cct-tint", "16-bit", "brightest"),
    ("cct-table", "16-bit", "brightest"),
    ("cool-first", "table", "brightest"),
]


@lru_cache(maxsize=64)
def encoder(kind: tuple[str, str, str], even: bool, calibrated: bool, count: int) -> Encoder:
    profile, mode, mixing = kind
    readings = READINGS if calibrated else ()
    lamps = rig(*[(profile, mode)] * count, mixing=mixing, even=even, calibration=readings)
    return Encoder(lamps, all_profiles())


def largest_jump(given_at: Callable[[np.ndarray], np.ndarray]) -> float:
    """The largest jump along a fade, 0 → 1: the worst step of 64, then the worst within it, and so on."""
    low, high = 0.0, 1.0
    for _ in range(8):
        places = np.linspace(low, high, 65)
        moved = np.abs(np.diff(given_at(places), axis=0)).max(axis=1)
        at = int(moved.argmax())
        low, high = float(places[at]), float(places[at + 1])
    return float(moved.max())


def given_along(kind: tuple[str, str, str], even: bool, calibrated: bool, frame: Frame) -> np.ndarray:
    """(k, m): what k lamps of a kind give, one for each light of the frame."""
    told = encoder(kind, even, calibrated, len(frame.level)).report(frame, 5600.0)
    return np.array([[*one.drives.values(), one.light, *one.xy] for one in told])


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=6)
@given(
    ends=st.tuples(
        st.floats(1500, 12000), st.floats(-0.04, 0.04), st.floats(1500, 12000), st.floats(-0.04, 0.04)
    ),
    even=st.booleans(),
    calibrated=st.booleans(),
)
def test_from_white_to_white(
    kind: tuple[str, str, str], ends: tuple[float, ...], even: bool, calibrated: bool
) -> None:
    start_k, start_duv, end_k, end_duv = ends

    def at(places: np.ndarray) -> np.ndarray:
        one = np.ones(len(places))
        mired = 1e6 / start_k + places * (1e6 / end_k - 1e6 / start_k)
        duv = start_duv + places * (end_duv - start_duv)
        return given_along(kind, even, calibrated, Frame(one, one > 0.0, mired, duv, 0.2 * one, 0.48 * one))

    assert largest_jump(at) < 1e-3


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=6)
@given(
    ends=st.tuples(
        st.floats(0.12, 0.45), st.floats(0.35, 0.56), st.floats(0.12, 0.45), st.floats(0.35, 0.56)
    ),
    even=st.booleans(),
    calibrated=st.booleans(),
)
# Deep purples, along which the nearest white leaps.
@example(ends=(0.25, 0.375, 0.375, 0.375), even=False, calibrated=False)
@example(ends=(0.20, 0.300, 0.420, 0.300), even=False, calibrated=True)
def test_from_colour_to_colour(
    kind: tuple[str, str, str], ends: tuple[float, ...], even: bool, calibrated: bool
) -> None:
    start_u, start_v, end_u, end_v = ends

    def at(places: np.ndarray) -> np.ndarray:
        one = np.ones(len(places))
        u, v = start_u + places * (end_u - start_u), start_v + places * (end_v - start_v)
        return given_along(kind, even, calibrated, Frame(one, one < 0.0, 200.0 * one, 0.0 * one, u, v))

    assert largest_jump(at) < 1e-3


def test_the_chase_finds_a_jump_where_there_is_one() -> None:
    def step(places: np.ndarray) -> np.ndarray:
        return (np.where(places > 0.3712, 0.2, 0.0) + 3.0 * places)[:, None]

    assert largest_jump(step) == pytest.approx(0.2, abs=1e-6)
    assert largest_jump(lambda places: np.minimum(1.0, 40.0 * places)[:, None]) < 1e-9
