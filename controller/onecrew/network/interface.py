"""Interface: whether the network interface that packets leave by can carry them at all. Linux only.

A packet to one machine needs an answer from there before it leaves, so its loss is reported. A multicast
packet needs none: with the cable out or the Wi-Fi gone it is sent into nowhere without an error.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import sys

if sys.platform == "linux":
    import fcntl

LINUX_SIOCGIFFLAGS, LINUX_SIOCGIFADDR = 0x8913, 0x8915
"""netdevice(7); Python has no names for them."""
IFF_UP, IFF_RUNNING = 0x1, 0x40
NAME_BYTES = 16


def interface_down(address: str) -> str:
    """The name of the interface that has this IPv4 address, if it is down or without a carrier; else empty.

    Empty as well where that cannot be found out.
    """
    if sys.platform != "linux":
        return ""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            if _address(asked, name) == address:
                return "" if _flags(asked, name) & (IFF_UP | IFF_RUNNING) == IFF_UP | IFF_RUNNING else name
    return ""


def _address(asked: socket.socket, name: str) -> str:
    """The first IPv4 address of an interface; empty where it has none."""
    with contextlib.suppress(OSError):
        answer = fcntl.ioctl(asked, LINUX_SIOCGIFADDR, struct.pack("256s", name.encode()[: NAME_BYTES - 1]))
        return socket.inet_ntoa(answer[20:24])
    return ""


def _flags(asked: socket.socket, name: str) -> int:
    request = struct.pack(f"{NAME_BYTES}sH14x", name.encode()[: NAME_BYTES - 1], 0)
    return int(struct.unpack(f"{NAME_BYTES}sH14x", fcntl.ioctl(asked, LINUX_SIOCGIFFLAGS, request))[1])
