"""The locus against published and independently computed tables, and its inverse."""

from __future__ import annotations

import numpy as np
import pytest

from controller.colour.locus import uv60_to_white, white_to_uv60
from controller.colour.spaces import uv60_to_xy

# (T, x, y): Planckian radiator, c2 = 1.4388e-2 m·K, CIE 1931 2°, 1 nm 360–830. Computed with numpy on
# colour-science's CMFs; luxpy 1.12.5 agrees to every digit printed.
PLANCKIAN = [
    (1000, 0.652753, 0.344460),
    (1500, 0.585721, 0.393120),
    (2000, 0.526681, 0.413296),
    (2500, 0.476998, 0.413676),
    (2700, 0.459863, 0.410600),
    (2800, 0.451860, 0.408631),
    (2856, 0.447539, 0.407429),
    (3000, 0.436934, 0.404075),
    (3200, 0.423363, 0.398953),
    (4000, 0.380442, 0.376749),
    (4300, 0.368113, 0.368691),
    (5000, 0.345103, 0.351610),
    (5600, 0.330200, 0.339081),
    (6500, 0.313528, 0.323630),
    (7500, 0.300336, 0.310268),
    (10000, 0.280634, 0.288289),
    (20000, 0.256458, 0.257631),
]


@pytest.mark.parametrize(("cct_k", "x", "y"), PLANCKIAN)
def test_the_locus_is_the_published_one(cct_k: float, x: float, y: float) -> None:
    assert uv60_to_xy(white_to_uv60(cct_k)) == pytest.approx([x, y], abs=6e-7)


def test_the_inverse_returns_what_went_in() -> None:
    cct_k, duv = np.meshgrid(np.geomspace(1000, 25000, 60), np.linspace(-0.05, 0.05, 11))
    back_k, back_duv = uv60_to_white(white_to_uv60(cct_k, duv))
    assert np.abs(back_k - cct_k).max() < 1e-6
    assert np.abs(back_duv - duv).max() < 1e-12
