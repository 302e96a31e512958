"""Where universes are sent, what listens and who is let in, as people write it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from onecrew.errors import Misuse
from onecrew.language import network


@pytest.mark.parametrize(
    "written", ["192.0.2.5,192.0.2.6:5569", "192.0.2.5 192.0.2.6:5569", " 192.0.2.5 , 192.0.2.6:5569,"]
)
def test_addresses_are_parted_by_commas_or_spaces(written: str) -> None:
    assert network.destinations(written) == ("192.0.2.5", "192.0.2.6:5569")


def test_nothing_is_no_address() -> None:
    assert network.destinations(" , ") == network.guests("") == network.receivers("") == ()


@pytest.mark.parametrize(
    ("read", "written", "said"),
    [
        (network.destinations, "192.0.2.5,lamp", "'lamp' is not an IP address"),
        (network.destinations, "239.255.0.1", "is a multicast address"),
        (network.guests, "192.0.2.5:9002", "is not an IP address"),
        (network.receivers, "192.0.2.5:9002 192.0.2.6", "has no port"),
        (network.receivers, "192.0.2.5:80", "is not a place to send to"),
        (network.listener, "localhost:9001", "is not an address to listen on"),
        (network.priority, "201", "0 to 200"),
        (network.port_address, "32768", "0 to 32767"),
    ],
)
def test_what_cannot_be_is_a_sentence(read: Callable[[str], object], written: str, said: str) -> None:
    with pytest.raises(Misuse, match=said):
        read(written)
