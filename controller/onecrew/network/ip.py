"""IP addresses as senders show themselves, in one way of writing."""

from __future__ import annotations

from ipaddress import IPv6Address, ip_address


def plain_ip(text: str) -> str:
    """An IP address in one way of writing; IPv4 in the clothes of IPv6 is IPv4 (RFC 4291 §2.5.5.2).

    >>> plain_ip("::ffff:192.168.1.20"), plain_ip("FE80:0:0:0:0:0:0:1%wlan0")
    ('192.168.1.20', 'fe80::1')
    """
    try:
        address = ip_address(text.partition("%")[0])
    except ValueError:
        return text
    if isinstance(address, IPv6Address) and address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(address)


def is_loopback(host: str) -> bool:
    """Whether a plain address is this machine's own; false for what is no address."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False
