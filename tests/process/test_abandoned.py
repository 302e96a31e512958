"""Supervisor and engine both gone: whoever comes next brings the light back, or says that none leaves."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest

from onecrew.engine import client as client_module
from onecrew.engine.client import Client, Event, Healed, Lost
from onecrew.show.snapshot import Snapshot
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_crashes import level


def lit(sandbox: Sandbox) -> dict[str, Any]:
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    return sandbox.wait_status(lambda status: status["cue"] == "1")


def kill_both(sandbox: Sandbox, status: dict[str, Any]) -> None:
    kill(status["supervisor_pid"])
    kill(status["engine_pid"])
    for process in sandbox.processes():
        process.wait(WAIT_S)


@pytest.mark.parametrize("words", [["status"], ["send", "note", "here again"]], ids=["status", "send"])
def test_the_next_command_brings_the_look_back_and_says_so(words: list[str], sandbox: Sandbox) -> None:
    kill_both(sandbox, lit(sandbox))
    mark = len(sandbox.receiver.packets)
    done = sandbox.run(*words)
    assert done.returncode == 0, done.stderr
    assert "no light left; started again" in done.stderr
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 32768
    assert sandbox.run("stop", "--fade", "0s").returncode == 0


def test_after_an_orderly_end_nothing_is_started(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    assert sandbox.run("stop", "--fade", "0s").returncode == 0
    assert engine.wait(WAIT_S) == 0
    status = sandbox.run("status")
    assert status.returncode == 1
    assert "no engine is running" in status.stderr


def test_status_says_that_the_supervisor_is_missing(sandbox: Sandbox) -> None:
    status = lit(sandbox)
    assert "no supervisor" not in sandbox.run("status").stdout
    kill(status["supervisor_pid"])
    for process in sandbox.processes():
        process.wait(WAIT_S)
    assert "no supervisor" in sandbox.run("status").stdout
    kill(status["engine_pid"])


def attached(sandbox: Sandbox, body: Callable[[Client, AsyncIterator[Event]], Awaitable[None]]) -> None:
    async def scene() -> None:
        client = await Client.attach(sandbox.show)
        try:
            await asyncio.wait_for(body(client, client.events()), WAIT_S)
        finally:
            await client.close()

    asyncio.run(scene())


def test_the_screens_that_started_the_engine_themselves_bring_it_back(sandbox: Sandbox) -> None:
    async def body(client: Client, events: AsyncIterator[Event]) -> None:
        assert client.started and client.snapshot is not None
        pids = (client.snapshot.supervisor_pid, client.snapshot.engine_pid)
        for pid in pids:
            assert pid is not None
            os.kill(pid, signal.SIGKILL)
        await until(events, lambda event: isinstance(event, Snapshot) and event.engine_pid not in pids)

    attached(sandbox, body)


async def until(events: AsyncIterator[Event], fits: Callable[[Event], bool]) -> Event:
    async for event in events:
        if fits(event):
            return event
    raise AssertionError("the client was closed")


@pytest.fixture
def at_home(sandbox: Sandbox, monkeypatch: pytest.MonkeyPatch) -> Sandbox:
    """This process lives in the sandbox as well."""
    for name, value in sandbox.env.items():
        monkeypatch.setenv(name, value)
    return sandbox


def test_screens_that_are_open_bring_the_look_back(at_home: Sandbox) -> None:
    status = lit(at_home)

    async def body(client: Client, events: AsyncIterator[Event]) -> None:
        listening = asyncio.create_task(until(events, lambda event: isinstance(event, Healed)))
        await asyncio.sleep(0)
        kill_both(at_home, status)
        await listening
        await until(client.events(), lambda event: client.snapshot is not None)
        assert client.snapshot is not None and client.snapshot.engine_pid != status["engine_pid"]
        mark = len(at_home.receiver.packets)
        assert level(await asyncio.to_thread(at_home.receiver.wait, lambda packet: True, mark)) == 32768

    attached(at_home, body)


def test_where_that_fails_they_say_that_no_light_leaves_and_try_again(
    at_home: Sandbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    status = lit(at_home)
    monkeypatch.setattr(client_module, "START_AGAIN_S", 0.1)
    whole = at_home.show.read_text()

    async def body(client: Client, events: AsyncIterator[Event]) -> None:
        given_up = asyncio.create_task(
            until(events, lambda event: isinstance(event, Lost) and event.given_up)
        )
        await asyncio.sleep(0)
        at_home.show.write_text("{ no show")
        for live in at_home.folder.rglob("*.live"):
            live.unlink()
        kill_both(at_home, status)
        lost = await given_up
        assert isinstance(lost, Lost) and "cannot be started again" in lost.reason
        at_home.show.write_text(whole)
        await until(client.events(), lambda event: isinstance(event, Healed))

    attached(at_home, body)
