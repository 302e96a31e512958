"""Reads where universes are sent, what listens where and who is let in. Pure; misreadings are sentences."""

from __future__ import annotations

import re
from collections.abc import Callable

from onecrew.errors import Misuse
from onecrew.language.reading import whole
from onecrew.show.destination import PORT_ADDRESS_MAX, PRIORITY_MAX, parse_destination
from onecrew.show.listener import parse_guest, parse_listener, parse_receiver


def destinations(text: str) -> tuple[str, ...]:
    """Addresses that a universe is sent to, maybe with a port."""
    return _each(text, parse_destination)


def guests(text: str) -> tuple[str, ...]:
    """Addresses of machines that are let in."""
    return _each(text, parse_guest)


def receivers(text: str) -> tuple[str, ...]:
    """``address:port`` of what is told without being asked."""
    return _each(text, parse_receiver)


def listener(text: str) -> str:
    """``address:port`` that something of ours listens on."""
    return _checked(text, parse_listener)


def priority(text: str) -> int:
    """A priority of sACN."""
    return whole(text, "priority", 0, PRIORITY_MAX)


def port_address(text: str, what: str = "port_address") -> int:
    """A port-address of Art-Net."""
    return whole(text, what, 0, PORT_ADDRESS_MAX)


def _each(text: str, parse: Callable[[str], object]) -> tuple[str, ...]:
    """What commas or spaces part, each checked; nothing is an empty list."""
    return tuple(_checked(part, parse) for part in re.split(r"[\s,]+", text) if part)


def _checked(text: str, parse: Callable[[str], object]) -> str:
    try:
        parse(text)
    except ValueError as error:
        raise Misuse(str(error)) from None
    return text
