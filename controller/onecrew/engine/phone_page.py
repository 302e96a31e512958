"""``python -m onecrew.engine.phone_page SHOW``: the phone page, a process of its own.

It is one more client of the engine's link, so that a page that is busy, attacked or broken never touches a
frame. It goes by the show that the engine sends: where ``remote.page`` says it listens, and it ends when the
show wants no page any more or the engine says goodbye. When the engine dies, the page stays and says so to
the phones until the engine is back.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from onecrew.commands.command import Command
from onecrew.engine.client import Client, Lost
from onecrew.engine.endpoint import files_of, is_alive, read_endpoint
from onecrew.errors import OnecrewError, Trouble
from onecrew.phone.files import PageFiles, page_files
from onecrew.phone.pairing import Phones
from onecrew.phone.server import PageServer
from onecrew.phone.view import reading_view, show_view, state_view
from onecrew.plan.now import forecast_now
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.terminal import printable

log = logging.getLogger(__name__)

RATE_HZ = 10.0
RETRY_S = 2.0
"""How often an address that is taken is tried again."""
WATCH_S = 0.5
ORPHAN_S = 5.0
"""How long the page outlives an engine and its supervisor that are both gone without a goodbye."""
NICE = 5
"""Niceness: the page comes after everything that makes light, whatever it inherited from the engine."""
READ_S = 2.0
"""How often at most the readings at the subject are worked out anew; it takes up to a second or two."""
EXIT_DONE = 0
EXIT_ALREADY = 3
"""Another page serves this show."""


def main(argv: Sequence[str]) -> int:
    """Serves the page of the show ``argv[0]`` until its engine is stopped; returns the exit status."""
    if hasattr(os, "setpriority"):
        os.setpriority(os.PRIO_PROCESS, 0, NICE)
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    try:
        files = page_files(files_of(Path(argv[0])))
        lock = FileLock(files.lock)
        try:
            lock.acquire(blocking=False)
        except Timeout:
            return EXIT_ALREADY
        with lock:
            asyncio.run(PageProcess(files).run())
    except OnecrewError as error:
        sys.stderr.write(f"onecrew: {printable(str(error))}\n")
        return 1
    return EXIT_DONE


class PageProcess:
    """The page of one show, from start to end."""

    def __init__(self, files: PageFiles) -> None:
        self._files = files
        self._client: Client | None = None
        self._server = PageServer(Phones(files.phones, files.codes), self._carry_out, files.key, self._ask)
        self._listening = ""
        """Where it listens; empty while it does not."""
        self._error = ""
        self._ended = asyncio.Event()
        self._wanted = asyncio.Event()
        """The show says something new about where to listen, or a phone came or went."""

    async def run(self) -> None:
        """Follows the engine until there is nothing more to follow."""
        loop = asyncio.get_running_loop()
        if sys.platform != "win32":
            for name in ("SIGTERM", "SIGINT"):
                loop.add_signal_handler(getattr(signal, name), self._ended.set)
            signal.signal(signal.SIGHUP, signal.SIG_IGN)
        tasks = [loop.create_task(work()) for work in (self._follow, self._watch, self._report, self._read)]
        ending = loop.create_task(self._ended.wait())
        try:
            done, _ = await asyncio.wait([ending, *tasks], return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            for task in (ending, *tasks):
                task.cancel()
            await asyncio.gather(ending, *tasks, return_exceptions=True)
            await self._server.close()
            if self._client is not None:
                await self._client.close()
            self._files.status.unlink(missing_ok=True)

    # ── the engine ──────────────────────────────────────────────────────────────────────────────

    async def _follow(self) -> None:
        client = self._client = await self._attached()
        for first in (client.show, client.snapshot):
            await self._receive(first)
        self._server.tell("engine", {"here": True, "say": ""})
        async for event in client.events():
            await self._receive(event)

    async def _attached(self) -> Client:
        while True:
            try:
                return await Client.attach(self._files.show, start=False, rate_hz=RATE_HZ)
            except Trouble:
                await asyncio.sleep(WATCH_S)

    async def _receive(self, event: object) -> None:
        if isinstance(event, Snapshot):
            self._server.tell("state", state_view(event, time.time()))
        elif isinstance(event, Show):
            self._server.tell("show", show_view(event))
            self._wanted.set()
        elif isinstance(event, Lost):
            if read_endpoint(self._files.engine) is None:
                self._ended.set()  # it went in order; one that died leaves its endpoint behind
            self._server.tell("engine", {"here": False, "say": event.reason})
            self._server.withdraw("state")  # phones forget it now, and an engine that follows may stand alike
        else:
            self._server.tell("engine", {"here": True, "say": ""})

    async def _carry_out(self, command: Command) -> None:
        if self._client is None or not self._client.attached:
            raise Trouble("the engine is away; nothing was done")
        await self._client.send(command)

    async def _ask(self, topic: str, **arguments: Any) -> dict[str, Any]:
        if self._client is None or not self._client.attached:
            raise Trouble("the engine is away; nothing was done")
        return await self._client.ask(topic, **arguments)

    async def _read(self) -> None:
        """Works out the readings at the subject while a phone looks and nothing fades."""
        known: object = None
        library: ProfileLibrary | None = None
        while True:
            await asyncio.sleep(READ_S)
            client = self._client
            show, snapshot = (client.show, client.snapshot) if client is not None else (None, None)
            if show is None or snapshot is None or snapshot.fade is not None or not self._server.connected:
                continue
            goals = tuple((name, round(light.goal_level, 4)) for name, light in snapshot.lights.items())
            wanted = (snapshot.revision, snapshot.master, snapshot.blackout, goals)
            if wanted == known:
                continue
            known = wanted
            try:
                if library is None:
                    library = await asyncio.to_thread(load_profiles, beside=self._files.show)
                found = await asyncio.to_thread(forecast_now, show, library, snapshot.lights)
            except (OnecrewError, ArithmeticError, ValueError):
                log.exception("the readings at the subject cannot be worked out")
                continue
            self._server.tell("readings", {"subjects": reading_view(found)})

    async def _watch(self) -> None:
        """Ends the page some time after the engine and its supervisor are gone: nobody brings them back."""
        gone_s = 0.0
        supervisor: int | None = None
        while gone_s < ORPHAN_S:
            await asyncio.sleep(WATCH_S)
            endpoint = read_endpoint(self._files.engine)
            supervisor = endpoint.supervisor_pid if endpoint is not None else supervisor
            pids = (endpoint.pid if endpoint is not None else None, supervisor)
            here = any(pid is not None and is_alive(pid) for pid in pids)
            gone_s = 0.0 if here else gone_s + WATCH_S
        log.info("the engine and its supervisor are gone, and so the page ends")

    # ── where it listens ────────────────────────────────────────────────────────────────────────

    async def _report(self) -> None:
        """Listens where the show wants it, and keeps the engine informed."""
        while True:
            show = self._client.show if self._client is not None else None
            if show is not None:
                if show.remote.page is None:
                    self._ended.set()
                    return
                await self._listen(show.remote.page.listen)
            known = {
                "pid": os.getpid(),
                "at": self._listening,
                "error": self._error,
                "phones": self._server.connected,
            }
            if self._files.read_status() != known:
                with contextlib.suppress(OSError):  # the disk is full, or somebody cleared the folder
                    self._files.write_status(known)
            with_wait = RETRY_S if self._error else WATCH_S
            try:
                async with asyncio.timeout(with_wait):
                    await self._wanted.wait()
            except TimeoutError:
                continue
            self._wanted.clear()

    async def _listen(self, wanted: str) -> None:
        if wanted == self._listening:
            return
        await self._server.close()
        self._listening = ""
        try:
            await self._server.listen(wanted)
        except Trouble as trouble:
            if str(trouble) != self._error:
                log.warning("%s", trouble)
            self._error = str(trouble)
        else:
            self._listening, self._error = wanted, ""
            log.info("the phone page is served at %s", wanted)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
