"""For every test: hypothesis draws the same examples each time and times nothing.

Hypothesis also draws numbers and words that it finds in the source of whatever modules of the project are
loaded; then a test alone would draw other examples than the same test after others. That is turned off.

Tests in a browser are left out unless asked for, and the last lines of a run say so.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers

settings.register_profile("onecrew", deadline=None, derandomize=True)
settings.load_profile("onecrew")
# There is no public switch for it; tests/test_same_examples.py fails where this no longer does it.
vars(providers)["is_local_module_file"] = lambda path: False

left_out: list[str] = []


def pytest_deselected(items: Sequence[pytest.Item]) -> None:
    left_out.extend(item.nodeid for item in items if item.get_closest_marker("browser"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if left_out:
        terminalreporter.write_line(
            f"left out: {len(left_out)} tests in a browser; `pytest -m browser` runs them and needs Chromium"
        )
