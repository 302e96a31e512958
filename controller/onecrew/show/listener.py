"""Listener: the address and port that something of ours listens on, and the addresses it lets in."""

from __future__ import annotations

from ipaddress import ip_address

EXAMPLE = "127.0.0.1:9001 for this machine alone, or 0.0.0.0:9001 for the network"

LEAST_PORT = 1024
"""Ports below belong to the system, and nothing of ours is sent there."""


def parse_listener(text: str) -> tuple[str, int]:
    """Splits ``127.0.0.1:9001`` or ``[::1]:9001`` into address and port.

    Raises ``ValueError`` ("what; fix") for a name instead of an address and for a port outside 1–65535.
    """
    host, colon, port = text.strip().rpartition(":")
    if not colon or not port:
        raise ValueError(f'"{text}" has no port; write it as {EXAMPLE}')
    host = host[1:-1] if host.startswith("[") and host.endswith("]") else host
    try:
        address = ip_address(host)
    except ValueError:
        raise ValueError(f'"{text}" is not an address to listen on; write it as {EXAMPLE}') from None
    if address.is_multicast:
        raise ValueError(f'"{text}" is a multicast address; write it as {EXAMPLE}')
    if not (port.isascii() and port.isdigit() and len(port) <= 5 and 1 <= int(port) <= 65535):
        raise ValueError(f'"{port}" is not a port; give a whole number from 1 to 65535')
    return str(address), int(port)


def parse_receiver(text: str) -> tuple[str, int]:
    """Splits the ``address:port`` that something is sent to. Raises ``ValueError`` ("what; fix")."""
    example = "write it as 192.168.1.20:9002"
    try:
        host, port = parse_listener(text)
    except ValueError as error:
        raise ValueError(f"{str(error).partition(';')[0]}; {example}") from None
    if ip_address(host).is_unspecified or port < LEAST_PORT:
        raise ValueError(f'"{text}" is not a place to send to; {example}, with a port from {LEAST_PORT} on')
    return host, port


def parse_guest(text: str) -> str:
    """The address of a machine that is let in. Raises ``ValueError`` ("what; fix") if it is none."""
    try:
        return str(ip_address(text.strip()))
    except ValueError:
        raise ValueError(f'"{text}" is not an IP address; write it as 192.168.1.20') from None
