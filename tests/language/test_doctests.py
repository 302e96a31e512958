"""The examples in the docstrings are true."""

from __future__ import annotations

import doctest

import pytest

from onecrew.language import light, modifiers, names, phrases, places, reading, saying, writing


@pytest.mark.parametrize("module", [light, modifiers, names, phrases, places, reading, saying, writing])
def test_doctests(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
