"""One page a test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.phone.page_stand import Stand


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    stand = Stand(tmp_path)
    yield stand
    stand.close()
