"""At which addresses a phone reaches the page."""

from __future__ import annotations

import socket
from collections.abc import Callable, Sequence
from ipaddress import ip_address

from onecrew.show.listener import parse_listener

NOWHERE = ("192.0.2.1", 9)
"""TEST-NET-1 (RFC 5737): nobody has this address. A UDP socket that is connected to it has sent nothing."""


def own_address() -> str | None:
    """This machine's address on the network that its default route leaves by; None where there is none.

    Asks the system's routing table only; nothing is sent.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(NOWHERE)
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if ip_address(address).is_unspecified else address


def page_urls(listen: str, find: Callable[[], str | None] = own_address) -> Sequence[str]:
    """URLs of a page that listens at ``address:port``, most likely first; empty where none is known.

    >>> page_urls("192.168.1.5:9080")
    ['http://192.168.1.5:9080/']
    """
    host, port = parse_listener(listen)
    address = ip_address(host)
    if address.is_unspecified:
        found = find()
        if found is None:
            return []
        address = ip_address(found)
    shown = f"[{address}]" if address.version == 6 else str(address)
    return [f"http://{shown}:{port}/"]


def is_for_this_machine_alone(listen: str) -> bool:
    """Whether only this machine can reach a page that listens there."""
    return ip_address(parse_listener(listen)[0]).is_loopback
