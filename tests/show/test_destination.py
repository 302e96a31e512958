"""What a destination may be: an IP literal, maybe with a port, of one receiver."""

from __future__ import annotations

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.show.destination import parse_destination, parse_interface


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("127.0.0.1", ("127.0.0.1", 5568)),  # default port: E1.31-2018 Appendix A
        ("127.0.0.1:15568", ("127.0.0.1", 15568)),
        (" 192.168.1.50 ", ("192.168.1.50", 5568)),
        ("::1", ("::1", 5568)),
        ("[::1]", ("::1", 5568)),
        ("[fe80::1]:5570", ("fe80::1", 5570)),
    ],
)
def test_reads_addresses(text: str, expected: tuple[str, int]) -> None:
    assert parse_destination(text) == expected


def test_the_default_port_is_the_callers() -> None:
    assert parse_destination("10.0.0.9", 6454) == ("10.0.0.9", 6454)
    assert parse_destination("10.0.0.9:7000", 6454) == ("10.0.0.9", 7000)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("lamp.local", "is not an IP address"),
        ("lamp.local:5568", "is not an IP address"),
        ("", "is not an IP address"),
        ("192.168.1", "is not an IP address"),
        ("[::1", "is not an IP address"),
        ("[::1]5568", "is not an IP address"),
        ("127.0.0.1:0", "from 1 to 65535"),
        ("127.0.0.1:65536", "from 1 to 65535"),
        ("127.0.0.1:-1", "from 1 to 65535"),
        ("127.0.0.1:", "from 1 to 65535"),
        ("127.0.0.1:00000199999", "from 1 to 65535"),
        ("127.0.0.1:٣", "from 1 to 65535"),
        ("239.255.0.1", "multicast address"),
        ("ff18::8300:1", "multicast address"),
        ("255.255.255.255", "broadcast address"),
        ("0.0.0.0", "no address that can be sent to"),
        ("[::]:5568", "no address that can be sent to"),
    ],
)
def test_refuses_with_a_sentence(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says) as refusal:
        parse_destination(text)
    assert f"'{text}'" in str(refusal.value)


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        host, port = parse_destination(text)
    except ValueError as refusal:
        assert len(str(refusal)) > len(text)
    else:
        assert ipaddress.ip_address(host).is_multicast is False
        assert 1 <= port <= 65535


@given(st.ip_addresses(), st.integers(1, 65535))
def test_address_and_port_come_back(
    address: ipaddress.IPv4Address | ipaddress.IPv6Address, port: int
) -> None:
    if address.is_multicast or address.is_unspecified or str(address) == "255.255.255.255":
        return
    text = f"[{address}]:{port}" if address.version == 6 else f"{address}:{port}"
    assert parse_destination(text) == (str(address), port)


def test_reads_an_interface() -> None:
    assert parse_interface("192.168.1.7") == "192.168.1.7"


@pytest.mark.parametrize("text", ["wlan0", "::1", "239.255.0.1", "0.0.0.0", ""])
def test_refuses_what_is_no_interface(text: str) -> None:
    with pytest.raises(ValueError, match=r"interface|IPv4"):
        parse_interface(text)
