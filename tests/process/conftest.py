"""One house a test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.process.house import House


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    yield house
    house.close()
