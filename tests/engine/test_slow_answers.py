"""Slow questions: the link goes on while they are worked on, bounds them, and drops them with their asker."""

from __future__ import annotations

import asyncio
import logging
from typing import Any

import pytest

from onecrew.engine import link as link_module
from onecrew.errors import Trouble
from tests.engine.test_link import Connect, Desk, Peer, with_link


class Thinker(Desk):
    """Answers ``slow`` when asked to."""

    def __init__(self) -> None:
        super().__init__()
        self.may_answer = asyncio.Event()
        self.given_up = 0

    def answer(self, topic: str, arguments: dict[str, Any]) -> Any:
        return self._think(topic) if topic.startswith("slow") else super().answer(topic, arguments)

    async def _think(self, topic: str) -> dict[str, Any]:
        try:
            await self.may_answer.wait()
        except asyncio.CancelledError:
            self.given_up += 1
            raise
        if topic == "slow-trouble":
            raise Trouble("the helper is away")
        if topic == "slow-bug":
            raise ZeroDivisionError
        return {"topic": topic}


@pytest.fixture
def thinker(monkeypatch: pytest.MonkeyPatch) -> list[Thinker]:
    """The desks that ``with_link`` makes, thinkers now."""
    made: list[Thinker] = []

    def make() -> Thinker:
        made.append(Thinker())
        return made[-1]

    monkeypatch.setattr("tests.engine.test_link.Desk", make)
    return made


async def waits_for_an_answer(connect: Connect) -> Peer:
    """A peer whose question is being worked on: the command after it is carried out."""
    peer = await connect()
    await peer.hello()
    await peer.say({"id": 1, "ask": "slow"})
    await peer.say({"id": 2, "command": {"kind": "go"}})
    await peer.receive()
    return peer


async def is_given_up(desk: Thinker) -> None:
    """The one question that was worked on is, soon."""
    for _ in range(200):
        if desk.given_up:
            break
        await asyncio.sleep(0.01)
    assert desk.given_up == 1


def test_commands_are_carried_out_while_an_answer_is_worked_on(thinker: list[Thinker]) -> None:
    async def body(_plain: Desk, connect: Connect) -> None:
        [desk] = thinker
        peer = await connect()
        await peer.hello()
        await peer.say({"id": 1, "ask": "slow"})
        await peer.say({"id": 2, "command": {"kind": "go"}})
        await peer.say({"id": 3, "ask": "quick"})
        assert await peer.receive() == {"id": 2, "changed": True}
        assert await peer.receive() == {"id": 3, "answer": {"topic": "quick"}}
        desk.may_answer.set()
        assert await peer.receive() == {"id": 1, "answer": {"topic": "slow"}}
        assert desk.link.coming == set()

    with_link(body)


def test_an_answer_that_fails_later_is_a_sentence(
    thinker: list[Thinker], caplog: pytest.LogCaptureFixture
) -> None:
    async def body(_plain: Desk, connect: Connect) -> None:
        [desk] = thinker
        peer = await connect()
        await peer.hello()
        desk.may_answer.set()
        await peer.say({"id": 1, "ask": "slow-trouble"})
        assert await peer.receive() == {"id": 1, "refused": "the helper is away"}
        with caplog.at_level(logging.ERROR):
            await peer.say({"id": 2, "ask": "slow-bug"})
            assert "its log says more" in (await peer.receive())["refused"]
        assert "ZeroDivisionError" in caplog.text
        await peer.say({"id": 3, "command": {"kind": "go"}})
        assert await peer.receive() == {"id": 3, "changed": True}

    with_link(body)


def test_more_than_a_few_at_once_are_refused(thinker: list[Thinker], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_module, "SLOW_AT_ONCE", 2)

    async def body(_plain: Desk, connect: Connect) -> None:
        [desk] = thinker
        one, other = await waits_for_an_answer(connect), await connect()
        await other.hello()
        await other.say({"id": 1, "ask": "slow"})
        await other.say({"id": 2, "ask": "slow"})
        busy = await other.receive()
        assert busy["id"] == 2
        assert "ask again in a moment" in busy["refused"]
        desk.may_answer.set()
        assert await one.receive() == await other.receive() == {"id": 1, "answer": {"topic": "slow"}}
        await other.say({"id": 3, "ask": "slow"})
        assert (await other.receive())["id"] == 3

    with_link(body)


def test_whoever_goes_away_takes_the_question_along(thinker: list[Thinker]) -> None:
    async def body(_plain: Desk, connect: Connect) -> None:
        [desk] = thinker
        peer = await waits_for_an_answer(connect)
        peer.writer.close()
        await is_given_up(desk)
        assert desk.link.coming == set()

    with_link(body)
    assert [desk.given_up for desk in thinker] == [1]


def test_the_end_of_the_link_ends_them_all(thinker: list[Thinker]) -> None:
    async def body(_plain: Desk, connect: Connect) -> None:
        [desk] = thinker
        peer = await waits_for_an_answer(connect)
        await desk.link.close("the engine ends")
        assert await peer.receive() == {"goodbye": "the engine ends", "stopped": True}
        await is_given_up(desk)

    with_link(body)
