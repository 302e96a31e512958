"""Limits of the phone page: how many connections, how long, from where, and how many wrong codes.

The page is for a phone in the same room. What does not behave like one is sent away before it costs anything:
a connection that does not bring its one request in time (a slow client, RFC 9110 §9.5 leaves the limit to the
server), a page of another site that uses the phone's cookie (RFC 6454: origin), a name that was pointed at
this machine from outside (Host), codes tried one after the other.
"""

from __future__ import annotations

import asyncio
from collections import Counter, OrderedDict, deque
from collections.abc import Awaitable, Callable, Mapping
from ipaddress import ip_address
from typing import Any

from aiohttp import web

CONNECTIONS = 64
PER_ADDRESS = 24
"""A browser opens six at once; several phones may share one address behind a router."""
REQUEST_S = 8.0
"""A request and its answer take less than this, or the connection is cut. A paired websocket may stay."""
MAX_BODY = 1024
WRONG_CODES = 8
WRONG_CODES_S = 60.0
ADDRESSES = 256
"""Addresses whose wrong codes are remembered."""

Handler = Callable[[web.BaseRequest], Awaitable[web.StreamResponse]]


class LimitedServer(web.Server):
    """aiohttp's server with a limit on connections and a deadline for each: aiohttp itself has neither."""

    def __init__(self, handler: Handler) -> None:
        super().__init__(
            handler,
            access_log=None,
            keepalive_timeout=REQUEST_S,
            lingering_time=0.0,
            max_line_size=1024,
            max_field_size=4096,
            max_headers=64,
            read_bufsize=16384,
            auto_decompress=False,
        )
        self._deadlines: dict[asyncio.BaseTransport, asyncio.TimerHandle] = {}
        self._by_address: Counter[str] = Counter()
        self._open: dict[web.RequestHandler, tuple[asyncio.BaseTransport, str]] = {}
        self.cut = 0
        """Connections that were turned away or cut."""

    def connection_made(self, handler: web.RequestHandler, transport: asyncio.Transport) -> None:
        super().connection_made(handler, transport)
        address = peer_of(transport)
        self._open[handler] = (transport, address)
        self._by_address[address] += 1
        if len(self._open) > CONNECTIONS or self._by_address[address] > PER_ADDRESS:
            self._cut(transport)
            return
        loop = asyncio.get_running_loop()
        self._deadlines[transport] = loop.call_later(REQUEST_S, self._cut, transport)

    def connection_lost(self, handler: web.RequestHandler, exc: BaseException | None = None) -> None:
        transport, address = self._open.pop(handler, (None, ""))
        if transport is not None:
            self.may_stay(transport)
            self._by_address[address] -= 1
            if self._by_address[address] <= 0:
                del self._by_address[address]
        super().connection_lost(handler, exc)

    def may_stay(self, transport: asyncio.BaseTransport | None) -> None:
        """Takes the deadline off a connection: it is a phone that was let in."""
        deadline = self._deadlines.pop(transport, None) if transport is not None else None
        if deadline is not None:
            deadline.cancel()

    def _cut(self, transport: asyncio.Transport) -> None:
        self.cut += 1
        self._deadlines.pop(transport, None)
        transport.abort()


class WrongCodes:
    """Counts wrong codes by address. Times are monotonic seconds."""

    def __init__(self) -> None:
        self._tries: OrderedDict[str, deque[float]] = OrderedDict()

    def wait_s(self, address: str, now: float) -> float:
        """How long this address has to wait before it may try again; 0 for now."""
        tries = self._tries.get(address)
        if tries is None:
            return 0.0
        while tries and tries[0] <= now - WRONG_CODES_S:
            tries.popleft()
        return tries[0] + WRONG_CODES_S - now if len(tries) >= WRONG_CODES else 0.0

    def note(self, address: str, now: float) -> None:
        """Notes a wrong code."""
        self._tries.setdefault(address, deque(maxlen=WRONG_CODES)).append(now)
        self._tries.move_to_end(address)
        if len(self._tries) > ADDRESSES:
            self._tries.popitem(last=False)


def peer_of(transport: asyncio.BaseTransport | None) -> str:
    """IP address of the other end; empty where there is none."""
    name = transport.get_extra_info("peername") if transport is not None else None
    return str(name[0]) if name else ""


def host_is_ours(host: str, own: str) -> bool:
    """Whether the Host of a request is the address at which this connection came in.

    Only addresses count: a name can be pointed at this machine by whoever owns the name, and then a page of
    his shares its origin with ours. ``localhost`` is the one name that nobody can own (RFC 6761 §6.3).
    """
    name, _, port = host.rpartition(":") if not host.endswith("]") else (host, "", "")
    name, port = (name, port) if name else (port, "")
    if port and not (port.isascii() and port.isdigit() and len(port) <= 5):
        return False
    bare = name[1:-1] if name.startswith("[") and name.endswith("]") else name
    try:
        mine = ip_address(own.partition("%")[0])
    except ValueError:
        return False
    if bare.lower() == "localhost":
        return mine.is_loopback
    try:
        asked = ip_address(bare)
    except ValueError:
        return False
    mapped = getattr(mine, "ipv4_mapped", None)
    return asked == mine or (mapped is not None and asked == mapped)


def is_own_page(headers: Mapping[str, Any], host: str) -> bool:
    """Whether our own page made a request that does something: its origin is what it was sent to."""
    return headers.get("Origin") == f"http://{host}" and is_not_cross_site(headers)


def is_not_cross_site(headers: Mapping[str, Any]) -> bool:
    """What the browser itself says of where a request comes from (Fetch Metadata); old ones say nothing."""
    return headers.get("Sec-Fetch-Site", "none") in ("same-origin", "none")
