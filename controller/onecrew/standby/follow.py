"""Standby follow: the standby's side. It calls the main engine, hears what plays there, and calls again.

Nothing that comes or fails here stops the light: while the main engine is away, what it said last goes on.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from onecrew.network.json_lines import pack, unpack
from onecrew.standby.clock import StandbyClock
from onecrew.standby.link import (
    FEED_LIMIT,
    SILENCE_S,
    TICK_S,
    Authenticator,
    Session,
    greeting,
    nonce,
    proves,
    read_greeting,
)

log = logging.getLogger(__name__)

RETRY_S = 0.25
"""How soon a main engine that is away is called again."""
FIRST_TICKS = 4
"""Asked in quick succession at the start, so that fades run in step from the first second."""
FIRST_TICK_S = 0.02

Message = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Handlers:
    """Who hears what the main engine says."""

    show: Callable[[Message], None]
    """A show with its profiles."""
    playback: Callable[[Message, float], None]
    """What plays, and by how much the main engine's clock is ahead of ours (s)."""
    ended: Callable[[], None]
    """The main engine was ended in good order."""
    changed: Callable[[str], None]
    """The main engine came or went: a sentence."""


class Follow:
    """Follows one main engine. ``await run()`` it in a task."""

    def __init__(
        self,
        main: tuple[str, int],
        secret: bytes,
        handlers: Handlers,
        *,
        clock: Callable[[], float],
        in_charge: Callable[[], bool],
    ) -> None:
        self.linked = False
        """Whether the main engine is heard."""
        self.error = ""
        """Why it is not, in words."""
        self.ticks = StandbyClock()
        self._main = main
        self._secret = secret
        self._handlers = handlers
        self._clock = clock
        self._in_charge = in_charge
        self._playback: Message | None = None

    async def run(self) -> None:
        """Calls, follows, calls again; until it is cancelled."""
        while True:
            writer = None
            try:
                async with asyncio.timeout(SILENCE_S):
                    reader, writer = await asyncio.open_connection(*self._main, limit=FEED_LIMIT)
                    outgoing, incoming = await self._greet(reader, writer)
                await self._follow(reader, writer, outgoing, incoming)
            except TimeoutError:
                self._lost("it is silent")
            except (OSError, ValueError, EOFError) as error:
                self._lost(getattr(error, "strerror", None) or str(error))
            except Exception:
                log.exception("the standby failed at what it heard")
                self._lost("something it said could not be used; this engine's log says what")
            finally:
                if writer is not None:
                    writer.close()
            await asyncio.sleep(RETRY_S)

    def again(self) -> None:
        """Hands on what plays once more."""
        if self._playback is not None and self.ticks.ahead_s is not None:
            self._handlers.playback(self._playback, self.ticks.ahead_s)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    async def _greet(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> tuple[Authenticator, Authenticator]:
        own = nonce()
        session = Session(self._secret, read_greeting(unpack(await _line(reader)), "feed"), own)
        writer.write(pack(greeting("standby", own, proof=session.standby_proof)))
        try:
            answer = unpack(await _line(reader))
        except EOFError:
            answer = {}
        if not proves(answer, session.main_proof):
            raise ValueError("it has another secret: copy the secret's file from the one to the other")
        return session.authenticators("standby")

    async def _follow(
        self,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        outgoing: Authenticator,
        incoming: Authenticator,
    ) -> None:
        self.ticks = StandbyClock()
        self._playback = None
        ticking = asyncio.create_task(self._tick(writer, outgoing))
        try:
            while True:
                async with asyncio.timeout(SILENCE_S):
                    line = await _line(reader)
                self._receive(incoming.verify(line))
                if not self.linked:
                    self.linked, self.error = True, ""
                    self._handlers.changed("the main engine is heard, and followed")
        finally:
            ticking.cancel()

    async def _tick(self, writer: asyncio.StreamWriter, outgoing: Authenticator) -> None:
        with contextlib.suppress(OSError):
            for count in range(1 << 62):
                question = {"tick": self._clock(), "in_charge": self._in_charge()}
                writer.write(outgoing.sign(json.dumps(question).encode()))
                await asyncio.sleep(FIRST_TICK_S if count < FIRST_TICKS else TICK_S)

    def _receive(self, message: Message) -> None:
        if "tock" in message:
            asked, theirs = message["tock"]
            if self.ticks.take(float(asked), float(theirs), self._clock()):
                self.again()
        elif "playback" in message:
            self._playback = message["playback"]
            self.again()
        elif "show" in message:
            self._playback = None  # that of the new show comes next
            self._handlers.show(message)
        elif "end" in message:
            self._handlers.ended()

    def _lost(self, why: str) -> None:
        heard = f"the main engine is not heard ({why})"
        if self.linked or heard != self.error:
            self.linked, self.error = False, heard
            self._handlers.changed(heard)


async def _line(reader: asyncio.StreamReader) -> bytes:
    """The next line; ``EOFError`` at the end, ``ValueError`` beyond the limit."""
    line = await reader.readline()
    if not line.endswith(b"\n"):
        raise EOFError("it closed the connection")
    return line
