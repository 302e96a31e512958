"""The examples in the docstrings of the remotes are true."""

from __future__ import annotations

import doctest

import pytest

from controller.remote import ip, osc_arguments, osc_packets, osc_pattern, page_address, pairing


@pytest.mark.parametrize("module", [ip, osc_arguments, osc_packets, osc_pattern, page_address, pairing])
def test_the_examples_hold(module: object) -> None:
    found = doctest.testmod(module)  # type: ignore[arg-type]
    assert found.attempted > 0
    assert found.failed == 0
