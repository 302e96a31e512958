"""IP addresses: in one way of writing, and whether they are this machine's."""

from __future__ import annotations

import errno
import socket
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


def is_of_this_machine(host: str) -> bool:
    """Whether something of ours can listen at this address: the system is asked, and nothing is sent.

    Only the system's own "no such address here" (``EADDRNOTAVAIL``) counts as no.
    """
    plain = host.partition("%")[0]
    family = socket.AF_INET6 if ":" in plain else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.bind((host, 0))
    except OSError as error:
        return error.errno != errno.EADDRNOTAVAIL
    return True
