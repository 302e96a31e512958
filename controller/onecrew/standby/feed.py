"""Standby feed: the main engine's side. It tells those who follow what plays, and takes nothing from them.

What a follower says back is the time it asks for and whether somebody put it in control. Strangers, silence
and followers that never read are let go; none of it reaches the light.
"""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable
from typing import Any

from onecrew.network.json_lines import LineBuffer, pack, unpack
from onecrew.network.listen_faults import why_not
from onecrew.standby.link import (
    FEED_LIMIT,
    HELLO_LIMIT,
    SILENCE_S,
    Authenticator,
    Session,
    greeting,
    nonce,
    proves,
    read_greeting,
)

log = logging.getLogger(__name__)

CALLERS = 8
"""Most connections at once, known or not."""
RETRY_S = 2.0
"""How often a port that is taken is tried again."""

Message = dict[str, Any]


class Feed:
    """Listens for standbys and feeds them."""

    def __init__(
        self,
        listen: tuple[str, int],
        secret: bytes,
        *,
        latest: Callable[[], list[Message]],
        changed: Callable[[str], None],
        clock: Callable[[], float],
    ) -> None:
        """``latest`` gives what a newcomer has to know; ``changed`` hears a sentence when one comes or goes,
        takes over or gives back."""
        self.secret = secret
        self.latest = latest
        self.changed = changed
        self.clock = clock
        self.error = ""
        """Why nobody can call, in words; empty while it listens."""
        self.callers: set[Caller] = set()
        self._listen = listen
        self._server: asyncio.Server | None = None
        self._retry: asyncio.TimerHandle | None = None

    @property
    def followers(self) -> list[Caller]:
        """Those that proved who they are."""
        return [caller for caller in self.callers if caller.known]

    async def open(self) -> None:
        """Listens; where that is impossible, says so and tries again until it is possible."""
        host, port = self._listen
        loop = asyncio.get_running_loop()
        try:
            self._server = await loop.create_server(lambda: Caller(self), host, port, backlog=CALLERS)
        except OSError as error:
            said = f"no standby can connect at {host}:{port}: {why_not(error)}"
            if said != self.error:
                self.error = said
                self.changed(said)
            self._retry = loop.call_later(RETRY_S, lambda: loop.create_task(self.open()))
        else:
            self.error = ""

    def tell(self, message: Message) -> None:
        """Sends a message to every follower."""
        followers = self.followers
        if followers:
            text = json.dumps(message, separators=(",", ":"), ensure_ascii=False).encode()
            for follower in followers:
                follower.tell(text)

    def close(self, *, ended: bool) -> None:
        """Stops listening and hangs up; ``ended``: the show is over, the followers need not go on."""
        if self._retry is not None:
            self._retry.cancel()
        if ended:
            self.tell({"end": True})
        for caller in tuple(self.callers):
            caller.hang_up()
        if self._server is not None:
            self._server.close()


class Caller(asyncio.Protocol):
    """One that called: a stranger at first, a follower once it has proved that it knows the secret."""

    def __init__(self, feed: Feed) -> None:
        self.known = False
        self.in_charge = False
        self.address = ""
        self._feed = feed
        self._nonce = nonce()
        self._lines = LineBuffer(HELLO_LIMIT)
        self._outgoing: Authenticator
        self._incoming: Authenticator
        self._transport: asyncio.Transport
        self._silence: asyncio.TimerHandle | None = None

    # ── asyncio's side ──────────────────────────────────────────────────────────────────────────

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        self.address = str(transport.get_extra_info("peername", ("",))[0])
        if len(self._feed.callers) >= CALLERS:
            transport.close()
            return
        transport.set_write_buffer_limits(high=FEED_LIMIT)
        self._feed.callers.add(self)
        self._heard_now()
        transport.write(pack(greeting("feed", self._nonce)))

    def data_received(self, data: bytes) -> None:
        try:
            for line in self._lines.feed(data):
                if self._transport.is_closing():
                    return
                self._receive(line)
        except ValueError as error:
            log.warning("a standby at %s was dropped: %s", self.address, error)
            self._transport.close()
        except Exception:
            log.exception("the feed failed at a line")
            self._transport.close()

    def connection_lost(self, _exc: Exception | None) -> None:
        self._feed.callers.discard(self)
        if self._silence is not None:
            self._silence.cancel()
        if self.known:
            self._feed.changed(f"the standby at {self.address} no longer follows")

    # ── what is reported to it ─────────────────────────────────────────────────────────────────────────

    def tell(self, text: bytes) -> None:
        """Sends a text, signed; one that never reads is let go."""
        if self._transport.is_closing():
            return
        if self._transport.get_write_buffer_size() > FEED_LIMIT:
            self._transport.abort()
            return
        self._transport.write(self._outgoing.sign(text))

    def hang_up(self) -> None:
        self._transport.close()

    # ── what it says ────────────────────────────────────────────────────────────────────────────

    def _receive(self, line: bytes) -> None:
        if self.known:
            self._tick(self._incoming.verify(line))
        else:
            self._greet(unpack(line))
        self._heard_now()

    def _greet(self, message: Message) -> None:
        session = Session(self._feed.secret, self._nonce, read_greeting(message, "standby"))
        if not proves(message, session.standby_proof):
            raise ValueError("it does not know the secret")
        self._outgoing, self._incoming = session.authenticators("main")
        self.known = True
        self._transport.write(pack({"proof": session.main_proof}))
        for known in self._feed.latest():
            self.tell(json.dumps(known, separators=(",", ":"), ensure_ascii=False).encode())
        self._feed.changed(f"a standby at {self.address} follows this engine")

    def _tick(self, message: Message) -> None:
        asked = message.get("tick")
        if not isinstance(asked, int | float):
            raise ValueError("a follower asks for the time and nothing else")
        self.tell(json.dumps({"tock": [asked, self._feed.clock()]}).encode())
        in_charge = message.get("in_charge") is True
        if in_charge != self.in_charge:
            self.in_charge = in_charge
            self._feed.changed(
                f"the standby at {self.address} has taken over: receivers show its light, not this desk's"
                if in_charge
                else f"the standby at {self.address} has given the light back"
            )

    def _heard_now(self) -> None:
        if self._silence is not None:
            self._silence.cancel()
        loop = asyncio.get_running_loop()
        self._silence = loop.call_later(SILENCE_S, self._transport.abort)
