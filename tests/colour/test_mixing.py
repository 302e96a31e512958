"""Worked mixes, limits and shapes of the emitter mixer."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.colour.locus import uv60_to_white, white_to_uv60
from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.colour.mixing import Mixer
from onecrew.colour.spaces import (
    uv60_to_xy,
    uv76_to_uv60,
    uv76_to_xy,
    xy_to_uv60,
    xy_to_uv76,
    xyy_to_xyz,
    xyz_to_xy,
)
from tests.colour.kits import RGBWW, SIX, kit

WARM, COOL = (uv60_to_xy(white_to_uv60(cct_k)) for cct_k in (2700.0, 6500.0))


def test_srgb_primaries_make_d65_in_the_published_shares() -> None:
    # IEC 61966-2-1 / ITU-R BT.709: 0.2126, 0.7152, 0.0722 of the luminance; seven digits by calculation.
    mixer = Mixer([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)], [1.0, 1.0, 1.0])
    mix = mixer.most_light(xy_to_uv76([(0.3127, 0.3290)]))
    shares = mix.drives[0] / mix.drives[0].sum()
    assert shares == pytest.approx([0.212639, 0.715169, 0.072192], abs=5e-7)
    assert mix.drives[0].max() == 1.0
    assert mix.light[0] == pytest.approx(1.0 / 0.715169 / 3.0, abs=1e-6)


@pytest.mark.parametrize(
    ("xy", "flux", "mixed"),
    # Addition in XYZ (Grassmann), computed with numpy.
    [
        ([(0.44758, 0.40745), (0.31272, 0.32903)], [100.0, 100.0], (0.372970, 0.364065)),
        ([(0.70, 0.30), (0.17, 0.70), (0.14, 0.05)], [20.0, 60.0, 5.0], (0.298113, 0.336792)),
    ],
)
def test_all_on_is_the_sum(
    xy: list[tuple[float, float]], flux: list[float], mixed: tuple[float, float]
) -> None:
    mix = Mixer(xy, flux).most_light(xy_to_uv76([mixed]))
    # Six digits of xy leave a few 1e-5 in the drive of the weakest emitter.
    assert mix.drives[0] == pytest.approx(np.ones(len(xy)), abs=2e-4)
    assert mix.light[0] == pytest.approx(1.0, abs=2e-4)
    assert mix.off_by[0] < 2e-6  # six digits of xy


@pytest.mark.parametrize(
    ("cct_k", "share", "duv"),
    # Share of luminance from 6500 K and Duv of the 2700 + 6500 K Planckian mix, computed with numpy.
    [
        (3200, 0.24367, -0.00474),
        (4000, 0.51322, -0.00637),
        (4300, 0.59212, -0.00611),
        (5000, 0.74799, -0.00464),
        (5600, 0.85939, -0.00289),
    ],
)
def test_a_bicolour_lamp_runs_along_its_chord(cct_k: float, share: float, duv: float) -> None:
    mixer = Mixer([WARM, COOL], [1.0, 1.0])
    on_chord = xy_to_uv76(uv60_to_xy(white_to_uv60(cct_k, duv)))
    mix = mixer.most_light(on_chord[None, :])
    assert mix.drives[0, 1] / mix.drives[0].sum() == pytest.approx(share, abs=6e-5)
    assert mix.drives[0].max() == pytest.approx(1.0)
    # Asked for the white itself, it comes as near as the chord does.
    asked = mixer.most_light(white_to_uv76_fast([1e6 / cct_k], 0.0))
    assert asked.off_by[0] == pytest.approx(1.5 * abs(duv), rel=0.25)
    reached_k, reached_duv = uv60_to_white(uv76_to_uv60(asked.reached[0]))
    assert float(reached_duv) == pytest.approx(duv, abs=6e-4)
    assert float(reached_k) == pytest.approx(cct_k, rel=0.04)


def test_the_equal_mix_of_two_whites() -> None:
    # 2700 + 6500 K at equal luminance: (0.378028, 0.361964), 3953.0 K, Duv −0.00638, computed with numpy.
    mix = Mixer([WARM, COOL], [1.0, 1.0]).most_light(xy_to_uv76([(0.378028, 0.361964)]))
    assert mix.drives[0] == pytest.approx([1.0, 1.0], abs=1e-4)
    cct_k, duv = uv60_to_white(xy_to_uv60(uv76_to_xy(mix.reached[0])))
    assert float(cct_k) == pytest.approx(3953.0, abs=0.1)
    assert float(duv) == pytest.approx(-0.00638, abs=1e-5)


@pytest.mark.parametrize(
    ("cct_k", "shares"),
    # Luminance shares of the Ohno (2005) LEDs 630/20, 525/35, 465/25 on the locus, computed with numpy.
    [
        (3200, (0.371173, 0.606474, 0.022353)),
        (4300, (0.321945, 0.638810, 0.039245)),
        (5600, (0.291334, 0.652793, 0.055873)),
        (6500, (0.278398, 0.656413, 0.065189)),
    ],
)
def test_three_leds_on_the_locus(cct_k: float, shares: tuple[float, float, float]) -> None:
    mixer = Mixer([(0.69849, 0.30141), (0.16918, 0.71654), (0.13488, 0.05214)], [1.0, 1.0, 1.0])
    mix = mixer.most_light(white_to_uv76_fast([1e6 / cct_k], 0.0))
    assert mix.drives[0] / mix.drives[0].sum() == pytest.approx(shares, abs=2e-5)


def test_a_colour_out_of_reach_goes_to_the_nearest() -> None:
    mixer = Mixer([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)], [1.0, 1.0, 1.0])
    asked = np.array([(0.05, 0.58), (0.62, 0.52), (0.2, 0.46)])
    mix = mixer.most_light(asked)
    assert mix.off_by[2] == 0.0
    assert mix.reached[2] == pytest.approx(asked[2])
    # No point of the triangle is nearer, tried by a fine net of mixes.
    net = np.random.default_rng(1).dirichlet((0.5, 0.5, 0.5), 20000) @ mixer.gamut()
    for k in (0, 1):
        assert np.hypot(*(net - asked[k]).T).min() >= mix.off_by[k] - 1e-12
        assert mix.off_by[k] == pytest.approx(np.hypot(*(mix.reached[k] - asked[k])))
    # Its red primary is the corner nearest to a saturated red.
    assert mix.drives[1] == pytest.approx([1.0, 0.0, 0.0], abs=0.05)


def test_one_emitter_has_one_colour() -> None:
    mix = Mixer([COOL], [5.0]).most_light(white_to_uv76_fast([200.0, 300.0], 0.0))
    assert mix.drives.tolist() == [[1.0], [1.0]]
    assert mix.light == pytest.approx([1.0, 1.0])
    assert mix.reached == pytest.approx(np.tile(xy_to_uv76(COOL), (2, 1)))
    assert mix.off_by[1] > mix.off_by[0] > 0.0


def test_twins_share_one_drive() -> None:
    mixer = Mixer([WARM, COOL, COOL], [1.0, 0.7, 0.3])
    mix = mixer.most_light(white_to_uv76_fast(np.linspace(160.0, 360.0, 20), -0.004))
    assert np.array_equal(mix.drives[:, 1], mix.drives[:, 2])
    pair = Mixer([WARM, COOL], [1.0, 1.0]).most_light(
        white_to_uv76_fast(np.linspace(160.0, 360.0, 20), -0.004)
    )
    assert mix.drives[:, :2] == pytest.approx(pair.drives)
    assert mix.light == pytest.approx(pair.light)


def test_neighbours_on_a_line_are_preferred_to_distant_ones() -> None:
    # Warm white, amber and red on one line, with a blue that is full on for the colours of that facet: where
    # white and red are both part driven, amber between them does all it can first.
    white, red, blue = np.array([0.46, 0.41]), np.array([0.69, 0.30]), np.array([0.15, 0.04])
    xy = np.array([white, 0.5 * (white + red), red, blue])
    mixer = Mixer(xy, np.ones(4))
    asked = np.array([[0.5, 1.0, 0.5, 1.0], [0.2, 1.0, 0.7, 1.0], [1.0, 0.6, 0.0, 1.0]])
    mix = mixer.most_light(xy_to_uv76(xyz_to_xy(asked @ xyy_to_xyz(xy, 1.0))))
    assert mix.drives == pytest.approx(asked, abs=1e-9)


def test_two_ends_of_a_line_stay_apart() -> None:
    # Warm white, amber and red alone: near white red stays dark, near red white does.
    white, red = np.array([0.46, 0.41]), np.array([0.69, 0.30])
    amber = white + 0.5 * (red - white)
    mixer = Mixer([white, amber, red], [1.0, 1.0, 1.0])
    few = mixer.most_light(xy_to_uv76([white + 0.1 * (red - white), white + 0.9 * (red - white)]))
    assert few.drives[0, 2] == pytest.approx(0.0, abs=1e-12)
    assert few.drives[1, 0] == pytest.approx(0.0, abs=1e-12)
    assert few.drives[0, 0] == few.drives[1, 2] == 1.0


def test_the_gamut_is_the_hull_of_the_emitters() -> None:
    xy, flux, _ = kit(*SIX)
    corners = Mixer(xy, flux).gamut()
    assert 3 <= len(corners) <= 6
    assert {tuple(c) for c in corners.round(9)} <= {tuple(c) for c in xy_to_uv76(xy).round(9)}
    edges = np.roll(corners, -1, axis=0) - corners
    after = np.roll(edges, -1, axis=0)
    assert (edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0] > 0.0).all()
    inside = (xy_to_uv76(xy)[:, None, :] - corners) @ np.array([[0.0, -1.0], [1.0, 0.0]])
    assert ((inside * edges).sum(axis=2) > -1e-12).all()


def test_even_light_is_what_every_white_can_give() -> None:
    mixer = Mixer(*kit(*RGBWW)[:2])
    even = mixer.even_light(2700.0, 6500.0)
    light = mixer.most_light(white_to_uv76_fast(np.linspace(1e6 / 6500.0, 1e6 / 2700.0, 3001), 0.0)).light
    assert 0.0 < even <= light.min() + 1e-6
    assert even == pytest.approx(light.min(), rel=1e-4)
    assert mixer.even_light(3200.0, 3200.0) > even
    with pytest.raises(ValueError, match="low_k up to high_k, got 6500 to 2700"):
        mixer.even_light(6500.0, 2700.0)


def test_what_the_caller_holds_is_not_shared() -> None:
    mixer = Mixer(*kit(*SIX)[:2])
    asked = white_to_uv76_fast([200.0, 300.0], 0.0)
    mix = mixer.most_light(asked)
    before = mix.reached.copy()
    asked[:] = 0.0
    assert np.array_equal(mix.reached, before)
    corners = mixer.gamut()
    corners[:] = 0.0
    assert mixer.gamut().min() > 0.0


def test_no_colours_and_many() -> None:
    mixer = Mixer(*kit(*SIX)[:2])
    none = mixer.most_light(np.empty((0, 2)))
    assert none.drives.shape == (0, 6)
    assert none.light.shape == none.off_by.shape == (0,)
    many = mixer.most_light(white_to_uv76_fast(np.linspace(100.0, 400.0, 3000), 0.0))
    one = mixer.most_light(white_to_uv76_fast([100.0], 0.0))
    assert many.drives[0] == pytest.approx(one.drives[0], abs=1e-12)


@pytest.mark.parametrize(
    ("xy", "flux", "spectra", "said"),
    [
        ([], [], None, "1 to 8 emitters"),
        ([(0.3, 0.3)] * 9, [1.0] * 9, None, "1 to 8 emitters"),
        ([(0.3, 0.3)], [1.0, 2.0], None, r"shape \(1,\), got \(2,\)"),
        ([(0.3, 0.3)], [0.0], None, "flux must be above 0"),
        ([(0.3, 0.3)], [float("nan")], None, "flux must be above 0"),
        ([(0.3, 0.0)], [1.0], None, "y > 0"),
        ([(0.6, 0.6)], [1.0], None, "x \\+ y up to 1"),
        ([(float("nan"), 0.6)], [1.0], None, "x > 0"),
        ([(0.3, 0.3)], [1.0], np.ones((1, 470)), r"shape \(1, 471\)"),
        ([(0.3, 0.3)], [1.0], np.full((1, 471), -1.0), "no power below 0"),
        ([(0.3, 0.3)], [1.0], np.zeros((1, 471)), "some light"),
    ],
)
def test_emitters_that_cannot_be(xy: list, flux: list, spectra: np.ndarray | None, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Mixer(xy, flux, spectra)


def test_colours_of_the_wrong_shape() -> None:
    mixer = Mixer([COOL], [1.0])
    with pytest.raises(ValueError, match=r"colours need shape \(k, 2\), got \(2,\)"):
        mixer.most_light([0.2, 0.5])
    with pytest.raises(ValueError, match="needs the spectra"):
        mixer.best_rendition([[0.2, 0.5]])
