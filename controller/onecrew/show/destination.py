"""Destination: the address that a universe is sent to, as people write it, and what the protocols allow.

IP literals only. Names are refused: looking one up can take seconds, and on a set without a name server it
fails.
"""

from __future__ import annotations

from ipaddress import IPv4Address, IPv6Address, ip_address

SACN_PORT = 5568
"""ACN_SDT_MULTICAST_PORT (E1.31-2018 Appendix A)."""
ARTNET_PORT = 6454
"""0x1936 (Art-Net 4)."""
UNIVERSE_MAX = 63999
"""E1.31-2018 §6.2.7; the least is 1."""
PRIORITY_MAX = 200
"""E1.31-2018 §6.2.3; the least is 0."""
PORT_ADDRESS_MAX = 0x7FFF
"""Art-Net: Net (7 bits), Sub-Net (4), Universe (4)."""
SLOTS = 512
"""Slots of a universe (ANSI E1.11)."""


def parse_destination(text: str, default_port: int = SACN_PORT) -> tuple[str, int]:
    """Splits a unicast destination into address and port.

    Accepts ``192.168.1.50``, ``192.168.1.50:5570``, ``fe80::1`` and ``[fe80::1]:5570``. Raises ``ValueError``
    with a sentence for a name, a port outside 1–65535, and for addresses that are no single receiver:
    multicast, broadcast (255.255.255.255) and the unspecified address.

    >>> parse_destination("127.0.0.1:15568")
    ('127.0.0.1', 15568)
    """
    host, port_text = _split(text.strip())
    try:
        address = ip_address(host)
    except ValueError:
        raise ValueError(
            f"'{text}' is not an IP address; write the lamp's own, like 192.168.1.50 or 192.168.1.50:5568"
        ) from None
    _refuse_groups(text, address)
    return str(address), _port(text, port_text, default_port)


def port_address(universe: int, said: int | None) -> int:
    """Return the Art-Net port-address of a universe: what the show says, else its number − 1."""
    return universe - 1 if said is None else said


def parse_interface(text: str) -> str:
    """Checks the address of the interface that multicast leaves by; raises ``ValueError`` with a sentence."""
    try:
        address = IPv4Address(text.strip())
    except ValueError:
        raise ValueError(
            f"'{text}' is not an IPv4 address; give the address of this machine on the network of the lamps"
        ) from None
    if address.is_multicast or address.is_unspecified:
        raise ValueError(f"{address} is not the address of an interface of this machine")
    return str(address)


def _split(text: str) -> tuple[str, str | None]:
    if text.startswith("["):
        host, closed, rest = text[1:].partition("]")
        if not closed or (rest and not rest.startswith(":")):
            return text, None
        return host, rest[1:] if rest else None
    if text.count(":") == 1:
        host, _, port_text = text.partition(":")
        return host, port_text
    return text, None


def _port(text: str, port_text: str | None, default_port: int) -> int:
    if port_text is None:
        return default_port
    digits = port_text.isascii() and port_text.isdigit() and len(port_text) <= 5
    if not digits or not 1 <= int(port_text) <= 65535:
        raise ValueError(f"'{text}' has no usable port; a port is a number from 1 to 65535")
    return int(port_text)


def _refuse_groups(text: str, address: IPv4Address | IPv6Address) -> None:
    if address.is_multicast:
        raise ValueError(f"'{text}' is a multicast address; leave the list empty to send by multicast")
    if address == IPv4Address("255.255.255.255"):
        raise ValueError(f"'{text}' is the broadcast address; write the address of each lamp instead")
    if address.is_unspecified:
        raise ValueError(f"'{text}' is no address that can be sent to; write the lamp's own address")
