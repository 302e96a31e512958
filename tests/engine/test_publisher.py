"""The publisher on a real socket: every client hears every change, whoever else listens and how often."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

from onecrew.engine.protocol import HOST
from onecrew.engine.publisher import Publisher, State
from onecrew.show.show import Show


class Client:
    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    def say(self, message: dict[str, Any]) -> None:
        self.writer.write(json.dumps(message).encode() + b"\n")

    async def state(self) -> dict[str, Any]:
        """The next state that it is sent, or what changed in it."""
        while True:
            message = json.loads(await asyncio.wait_for(self.reader.readline(), 5))
            if state := message.get("snapshot") or message.get("changes"):
                return dict(state)


def made(
    state: State, answering: Callable[[], bool] = lambda: False, frame_s: float = 1.0
) -> tuple[Publisher, Any]:
    """A publisher that has time for a part of its work whenever it asks, and its desk."""
    clock = asyncio.get_running_loop().time
    playback = SimpleNamespace(countdown=None, follow_at=None, held=False)
    desk: Any = SimpleNamespace(revision=1, show=Show(name="no lamps"), playback=playback)
    publisher = Publisher(
        desk,
        state,
        clock,
        next_frame=lambda: clock() + frame_s,
        answering=answering,
        carry_out=lambda _: True,
        answer=lambda topic, arguments: {},
        keep=lambda: None,
    )
    return publisher, desk


async def watching(publisher: Publisher, port: int, rate_hz: float) -> Client:
    client = Client(*await asyncio.open_connection(HOST, port))
    client.say({"hello": {"token": publisher.link.token}})
    client.say({"watch": {"rate_hz": rate_hz}})
    return client


async def close(publisher: Publisher, *clients: Client) -> None:
    await publisher.close("over")
    for client in clients:
        client.writer.close()
        await client.writer.wait_closed()


def test_no_state_is_built_while_the_frame_of_a_change_is_made() -> None:
    async def scene() -> None:
        answered = iter((True, True, False))
        turns: list[str] = []

        def answering() -> bool:
            turns.append("asked")
            return next(answered)

        def state() -> tuple[dict[str, Any], Iterator[dict[str, Any]]]:
            turns.append("built")
            return {"cue": "1"}, iter(({},))

        publisher, _ = made(state, answering, 0.005)
        client = await watching(publisher, await publisher.link.listen(), 30)
        assert (await client.state())["cue"] == "1"
        assert turns == ["asked", "asked", "asked", "built"]
        await close(publisher, client)

    asyncio.run(scene())


def test_a_client_that_was_told_a_moment_ago_hears_what_another_was_told_meanwhile() -> None:
    """It had to wait for the next state, which came a second later where nothing else happened."""

    async def scene() -> None:
        built = 0

        def state() -> tuple[dict[str, Any], Iterator[dict[str, Any]]]:
            nonlocal built
            built += 1
            return {"cue": str(built)}, iter(({},))

        publisher, _ = made(state)
        port = await publisher.link.listen()
        seldom = await watching(publisher, port, 3)
        assert (await seldom.state())["cue"] == "1"
        often = await watching(publisher, port, 30)
        assert (await often.state())["cue"] == "2"
        assert (await seldom.state())["cue"] == "2"
        await close(publisher, seldom, often)

    asyncio.run(scene())


def test_a_state_that_a_change_of_the_show_overtakes_is_never_told() -> None:
    async def scene() -> None:
        built = 0

        def state() -> tuple[dict[str, Any], Iterator[dict[str, Any]]]:
            nonlocal built
            built += 1
            return {"cue": str(built)}, lamps(built)

        def lamps(of: int) -> Iterator[dict[str, Any]]:
            yield {"first": {"of": of}}
            if of == 1:
                desk.revision += 1
            yield {"second": {"of": of}}

        publisher, desk = made(state)
        client = await watching(publisher, await publisher.link.listen(), 30)
        assert await client.state() == {"cue": "2", "lights": {"first": {"of": 2}, "second": {"of": 2}}}
        await close(publisher, client)

    asyncio.run(scene())
