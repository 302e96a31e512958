"""The link on a real socket: token, garbage, floods, clients that vanish or never read."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from onecrew.engine import link as link_module
from onecrew.engine.changes import Changes
from onecrew.engine.link import Link
from onecrew.engine.protocol import HOST
from onecrew.errors import Refused

TOKEN = "correct-horse"


class Desk:
    """Stands in for the engine: takes note, refuses ``lock``, and is called so already."""

    def __init__(self) -> None:
        self.heard: list[dict[str, Any]] = []
        self.kept: list[int] = []
        """How many commands had been carried out at each call to keep what they changed."""
        self.changes = Changes()
        self.link = Link(
            TOKEN, self.carry_out, self.answer, self.changes, lambda: self.changes.number, self.keep
        )

    def publish(self, cue: str, now: float) -> None:
        self.changes.take(b"{}", {"cue": cue}, {})
        self.link.publish(now)

    def carry_out(self, command: dict[str, Any]) -> bool:
        if command["kind"] == "lock":
            raise Refused("the desk is locked: unlock first")
        self.heard.append(command)
        return command["kind"] != "rename"

    def keep(self) -> None:
        self.kept.append(len(self.heard))

    def answer(self, topic: str, arguments: dict[str, Any]) -> dict[str, Any]:
        return {"topic": topic, **arguments}


class Peer:
    """A client of raw lines."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    async def say(self, message: dict[str, Any] | bytes) -> None:
        self.writer.write(message if isinstance(message, bytes) else json.dumps(message).encode() + b"\n")
        await self.writer.drain()

    async def receive(self) -> dict[str, Any]:
        line = await asyncio.wait_for(self.reader.readline(), 5)
        return dict(json.loads(line)) if line else {"closed": True}

    async def hello(self) -> None:
        await self.say({"hello": {"token": TOKEN}})
        assert "welcome" in await self.receive()


Connect = Callable[[], Awaitable[Peer]]


def with_link(body: Callable[[Desk, Connect], Awaitable[None]]) -> None:
    async def scene() -> None:
        desk = Desk()
        port = await desk.link.listen()
        peers: list[Peer] = []

        async def connect() -> Peer:
            peers.append(Peer(*await asyncio.open_connection(HOST, port)))
            return peers[-1]

        try:
            await asyncio.wait_for(body(desk, connect), 20)
        finally:
            await desk.link.close("the test is over")
            for peer in peers:
                peer.writer.close()

    asyncio.run(scene())


def test_what_a_command_changed_is_kept_before_anybody_hears_that_it_is_done(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(link_module, "TURN_S", 60.0)  # all three in one turn, however slow the machine is

    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.hello()
        connection = next(iter(desk.link.connections))
        left: list[bytes] = []
        connection._transport.write = left.append  # type: ignore[method-assign, assignment]
        commands = [{"id": number, "command": {"kind": "go"}} for number in (1, 2, 3)]

        def keep() -> None:
            desk.keep()
            assert left == []

        desk.link.keep = keep
        connection.data_received(b"".join(json.dumps(command).encode() + b"\n" for command in commands))
        assert desk.kept == [0, 3]  # after the hello, and after the three commands
        assert [json.loads(line) for line in b"".join(left).splitlines()] == [
            {"id": number, "changed": True} for number in (1, 2, 3)
        ]

    with_link(body)


def test_a_command_is_carried_out_and_answered() -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.hello()
        await peer.say({"id": 1, "command": {"kind": "go"}})
        assert await peer.receive() == {"id": 1, "changed": True}
        await peer.say({"id": 2, "command": {"kind": "lock"}})
        assert await peer.receive() == {"id": 2, "refused": "the desk is locked: unlock first"}
        await peer.say({"id": 3, "ask": "profiles", "with": {"like": "panel"}})
        assert await peer.receive() == {"id": 3, "answer": {"topic": "profiles", "like": "panel"}}
        assert desk.heard == [{"kind": "go"}]
        await peer.say({"id": 4, "command": {"kind": "rename"}})
        assert await peer.receive() == {"id": 4, "changed": False}

    with_link(body)


@pytest.mark.parametrize(
    "first",
    [
        {"command": {"kind": "go"}},
        {"hello": {"token": "wrong"}},
        {"hello": {"token": 7}},
        {"hello": {}},
        {"hello": None},
        b"\x00\xff\xfe garbage\n",
        b"GET / HTTP/1.1\r\n",
        b"[]\n",
        b"x" * 5000,
    ],
)
def test_a_stranger_gets_one_sentence_and_no_light(first: dict[str, Any] | bytes) -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.say(first)
        goodbye = await peer.receive()
        assert len(goodbye["goodbye"]) > 20
        assert await peer.receive() == {"closed": True}
        assert desk.heard == []
        assert desk.link.refused == 1

    with_link(body)


def test_garbage_after_the_hello_closes_that_client_alone() -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        good, bad = await connect(), await connect()
        await good.hello()
        await bad.hello()
        for line in (b'{"id": 1, "command": "go"}\n',):
            await bad.say(line)
        assert "a command is a JSON object" in (await bad.receive())["goodbye"]
        await good.say({"id": 1, "command": {"kind": "go"}})
        assert await good.receive() == {"id": 1, "changed": True}

    with_link(body)


@pytest.mark.parametrize("fails", ["keep", "answer"])
def test_an_engine_that_fails_behind_a_command_does_not_say_that_it_changed_nothing(
    fails: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def bug(*_: object) -> None:
        raise RuntimeError("a bug")

    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.hello()
        monkeypatch.setattr(desk.link, fails, bug)
        await peer.say(b'{"id": 1, "command": {"kind": "go"}}\n{"id": 2, "ask": "x"}\n')
        while "goodbye" not in (heard := await peer.receive()):
            assert heard == {"id": 1, "changed": True}
        assert desk.heard == [{"kind": "go"}]
        assert heard["goodbye"].startswith("the engine failed here: see whether what you sent took effect")
        assert "the link failed at a message" in caplog.text

    with_link(body)


def test_a_watcher_gets_a_whole_state_first_and_then_what_changed() -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.hello()
        desk.publish("0", 99.0)  # before it watched
        await peer.say({"watch": {"rate_hz": 10}})
        await peer.say({"id": 1, "ask": "x"})
        assert (await peer.receive())["id"] == 1
        desk.link.publish(99.5)
        desk.publish("1", 100.0)
        assert await peer.receive() == {"show": {}}
        assert await peer.receive() == {"snapshot": {"cue": "1", "lights": {}}}
        desk.publish("2", 100.05)  # sooner than it asked for
        desk.publish("3", 100.1)
        assert await peer.receive() == {"changes": {"cue": "3"}}

    with_link(body)


@pytest.mark.parametrize("rate", [True, "5", None, 0, 31, 10**400])
def test_a_watch_at_no_rate_is_sent_away_with_a_sentence(rate: object) -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        peer = await connect()
        await peer.hello()
        await peer.say({"watch": {"rate_hz": rate}})
        assert "a watch has a rate_hz from 0.1 to 30" in (await peer.receive())["goodbye"]

    with_link(body)


def test_a_watcher_that_never_reads_is_skipped_and_the_others_served() -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        deaf, good = await connect(), await connect()
        deaf.reader._transport.pause_reading()  # type: ignore[attr-defined]
        for peer in (deaf, good):
            await peer.say({"hello": {"token": TOKEN}})
            await peer.say({"watch": {"rate_hz": 30}})
            await peer.say({"id": 1, "ask": "x"})
        await good.receive()
        assert (await good.receive())["id"] == 1
        while sum(connection.interval_s is not None for connection in desk.link.connections) < 2:
            await asyncio.sleep(0)
        for step in range(300):  # 18 MB, far beyond any socket's buffer
            desk.publish(f"{step}" + "x" * 60_000, float(step))
            while "id" in (heard := await good.receive()) or "show" in heard:
                pass
        unread = max(c._transport.get_write_buffer_size() for c in desk.link.connections)
        assert unread < link_module.SNAPSHOT_BACKLOG + 2 * 60_100

    with_link(body)


def test_a_client_that_was_dismissed_and_never_reads_is_watched_for_no_more_and_let_go(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        deaf = await connect()
        deaf.reader._transport.pause_reading()  # type: ignore[attr-defined]
        await deaf.say({"hello": {"token": TOKEN}})
        await deaf.say({"watch": {"rate_hz": 30}})
        while not desk.link.watched:
            await asyncio.sleep(0)
        (connection,) = desk.link.connections
        for step in range(200):  # 12 MB, far beyond any socket's buffer
            desk.publish(f"{step}" + "x" * 60_000, float(step))
            await asyncio.sleep(0)
        gone = asyncio.Event()
        monkeypatch.setattr(link_module, "HELLO_S", 0.0)
        monkeypatch.setattr(connection, "connection_lost", lambda _: gone.set())
        await deaf.say(b"garbage\n")
        while desk.link.connections:
            await asyncio.sleep(0)
        assert not desk.link.watched and desk.link.refused == 1
        await gone.wait()

    with_link(body)


def test_more_clients_than_the_limit_are_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_module, "CLIENTS", 3)

    async def body(desk: Desk, connect: Connect) -> None:
        for _ in range(3):
            await (await connect()).hello()
        assert "3 clients" in (await (await connect()).receive())["goodbye"]

    with_link(body)


def test_silence_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_module, "HELLO_S", 0.02)

    async def body(desk: Desk, connect: Connect) -> None:
        assert "no hello" in (await (await connect()).receive())["goodbye"]

    with_link(body)


def test_two_hundred_clients_come_and_vanish() -> None:
    async def body(desk: Desk, connect: Connect) -> None:
        peers = [await connect() for _ in range(200)]
        for index, peer in enumerate(peers):
            if index % 2:
                await peer.hello()
            peer.writer.transport.abort()
        stays = await connect()
        await stays.hello()
        await stays.say({"id": 1, "command": {"kind": "go"}})
        assert await stays.receive() == {"id": 1, "changed": True}
        for _ in range(100):
            if len(desk.link.connections) == 1:
                break
            await asyncio.sleep(0.01)
        assert len(desk.link.connections) == 1

    with_link(body)
