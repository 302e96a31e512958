"""The two general-purpose colour libraries that the colour package is checked against."""

from __future__ import annotations

from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def colour_science() -> ModuleType:
    import colour

    return colour


@pytest.fixture(scope="session")
def luxpy() -> ModuleType:
    import luxpy

    return luxpy
