"""Laws: level and output of a whole rig, each lamp by its own law."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.playback.laws import law_of, laws_of, level_of, output_of
from tests.playback.stage import PROFILES

RIG = [PROFILES[law] for law in ("log", "linear", "table", "square", "log", "table")]
LAWS = laws_of(RIG)


@pytest.mark.parametrize("level", [0.0, 1e-6, 0.001, 0.02, 0.2, 0.5, 0.99, 1.0])
def test_each_lamp_dims_by_the_law_of_its_profile(level: float) -> None:
    wanted = [float(output_of(level, law_of(profile))) for profile in RIG]
    assert LAWS.output(np.full(6, level)) == pytest.approx(wanted, rel=1e-12)
    wanted = [float(level_of(level, law_of(profile))) for profile in RIG]
    assert LAWS.level(np.full(6, level)) == pytest.approx(wanted, rel=1e-12)


# IEC 62386-102: value n = 1 + 253·level gives 10^((n − 1)/(253/3) − 1) percent; n 229 gives 50.53 %.
def test_the_log_law_is_the_standard_curve() -> None:
    assert LAWS.output(np.full(6, 228 / 253))[0] == pytest.approx(0.5053, abs=5e-5)


@given(st.lists(st.floats(0.0, 1.0), min_size=6, max_size=6))
def test_level_and_output_are_each_others_inverse(levels: list[float]) -> None:
    level = np.array(levels)
    assert LAWS.level(LAWS.output(level)) == pytest.approx(level, abs=1e-7)
