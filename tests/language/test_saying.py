"""Quantities as a person reads them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.language.saying import figure


@given(st.floats(0.0, 1e7), st.integers(2, 4))
def test_a_figure_has_no_exponent_and_is_near_the_value(value: float, digits: int) -> None:
    said = figure(value, digits)
    assert "e" not in said
    assert float(said) == pytest.approx(value, rel=0.5 * 10.0 ** (1 - digits) * 1.01, abs=1e-4)
