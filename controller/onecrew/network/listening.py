"""Listening: UDP sockets bound to a port, and why one cannot be had."""

from __future__ import annotations

import errno
import socket

from onecrew.errors import Trouble


def listening_socket(host: str, port: int) -> socket.socket:
    """A non-blocking UDP socket with a port of its own; raises ``Trouble`` with a sentence.

    No SO_REUSEADDR: with it a second program could take the packets away, silently.
    """
    sock = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_DGRAM)
    return bound(sock, host, port)


def bound(sock: socket.socket, host: str, port: int) -> socket.socket:
    """Binds and returns the socket; raises ``Trouble`` with a sentence."""
    try:
        sock.setblocking(False)
        sock.bind((host, port))
    except OSError as error:
        sock.close()
        raise Trouble(_why(error, host, port)) from error
    return sock


def _why(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"UDP port {port} on {host or 'this machine'} is in use by another program; end that one first"
    if error.errno == errno.EADDRNOTAVAIL:
        return f"{host} is not an address of this machine"
    return f"cannot listen on {host or 'this machine'}, UDP port {port}: {error.strerror or error}"
