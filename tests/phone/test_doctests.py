"""The examples in the docstrings of the remotes are true."""

from __future__ import annotations

import doctest

import pytest

from onecrew.network import ip
from onecrew.osc import arguments as osc_arguments
from onecrew.osc import packets as osc_packets
from onecrew.osc import pattern as osc_pattern
from onecrew.phone import address as page_address
from onecrew.phone import pairing


@pytest.mark.parametrize("module", [ip, osc_arguments, osc_packets, osc_pattern, page_address, pairing])
def test_the_examples_hold(module: object) -> None:
    found = doctest.testmod(module)  # type: ignore[arg-type]
    assert found.attempted > 0
    assert found.failed == 0
