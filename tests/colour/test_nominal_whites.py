"""Nominal whites of ANSI C78.377-2017 (as quoted by the plot source of harbik/colorimetry)."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.colour.locus import uv60_to_white, white_to_uv60
from onecrew.colour.spaces import uv60_to_xy, xy_to_uv60

# (nominal, target CCT, tolerance, target Duv, centre as published)
WHITES = [
    (2200, 2238, 102, 0.0000, (0.5018, 0.4153)),
    (2500, 2460, 120, 0.0000, (0.4806, 0.4141)),
    (2700, 2725, 145, 0.0000, (0.4578, 0.4101)),
    (3000, 3045, 175, 0.0001, (0.4339, 0.4033)),
    (3500, 3465, 245, 0.0005, (0.4078, 0.3930)),
    (4000, 3985, 275, 0.0010, (0.3818, 0.3797)),
    (4500, 4503, 243, 0.0015, (0.3613, 0.3670)),
    (5000, 5029, 283, 0.0020, (0.3446, 0.3551)),
    (5700, 5667, 355, 0.0025, (0.3287, 0.3425)),
    (6500, 6532, 510, 0.0031, (0.3123, 0.3283)),
]
HALF_HEIGHT = 0.006

# Corners as the 2015 chart prints them, in the order warm +, cool +, cool −, warm −.
CORNERS = {
    2700: [(0.4813, 0.4319), (0.4562, 0.4260), (0.4373, 0.3893), (0.4593, 0.3944)],
    3000: [(0.4562, 0.4260), (0.4303, 0.4173), (0.4150, 0.3821), (0.4373, 0.3893)],
    3500: [(0.4303, 0.4173), (0.4003, 0.4035), (0.3895, 0.3709), (0.4150, 0.3821)],
    4000: [(0.4003, 0.4035), (0.3737, 0.3880), (0.3671, 0.3583), (0.3895, 0.3709)],
    5700: [(0.3375, 0.3619), (0.3205, 0.3476), (0.3221, 0.3256), (0.3366, 0.3374)],
    6500: [(0.3205, 0.3477), (0.3026, 0.3311), (0.3067, 0.3119), (0.3221, 0.3255)],
}


def nominal_duv(cct_k: float) -> float:
    """Duv that the standard asks for at a CCT: on the locus below 2780 K."""
    return 57700.0 / cct_k**2 - 44.6 / cct_k + 0.00854 if cct_k >= 2780.0 else 0.0


@pytest.mark.parametrize(("nominal", "cct_k", "tolerance", "duv", "centre"), WHITES)
def test_centres(
    nominal: int, cct_k: float, tolerance: float, duv: float, centre: tuple[float, float]
) -> None:
    # The published target Duv is rounded to four places, which is worth 1e-4 in y; its formula is not.
    assert uv60_to_xy(white_to_uv60(cct_k, duv)) == pytest.approx(centre, abs=1.6e-4), nominal
    assert uv60_to_xy(white_to_uv60(cct_k, nominal_duv(cct_k))) == pytest.approx(centre, abs=7e-5), nominal
    got_k, got_duv = uv60_to_white(xy_to_uv60(centre))
    assert float(got_k) == pytest.approx(cct_k, abs=tolerance / 50)
    assert float(got_duv) == pytest.approx(duv, abs=1.2e-4)


@pytest.mark.parametrize("nominal", CORNERS)
def test_corners(nominal: int) -> None:
    _, target, tolerance, _, _ = next(white for white in WHITES if white[0] == nominal)
    warm, cool = target - tolerance, target + tolerance
    corners = [(warm, 1), (cool, 1), (cool, -1), (warm, -1)]
    ours = [uv60_to_xy(white_to_uv60(k, nominal_duv(k) + side * HALF_HEIGHT)) for k, side in corners]
    assert np.abs(np.array(ours) - CORNERS[nominal]).max() < 2e-4
