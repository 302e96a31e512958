"""Who else sends: heard on a real socket while somebody asks, and the port given back after that."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Awaitable, Callable
from uuid import UUID

import pytest

from onecrew.engine import sources as module
from onecrew.engine.sources import Sources, stays_here
from onecrew.network.sacn_packets import data_header
from onecrew.show.show import Output, Sacn, SacnUniverse, Show

HERE = Show(name="Here", output=Output(sacn=Sacn(universes={"1": SacnUniverse(to=("127.0.0.1",))})))
OWN = UUID("00010203-0405-0607-0809-0a0b0c0d0e0f")
OTHER = UUID("ffffffff-0405-0607-0809-0a0b0c0d0e0f")


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_LOOK_S", 0.05)


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def run(body: Callable[[Sources, int], Awaitable[None]]) -> None:
    async def scene() -> None:
        port = free_port()
        sources = Sources(OWN, port)
        try:
            await asyncio.wait_for(body(sources, port), 10)
        finally:
            sources.close()

    asyncio.run(scene())


def say(port: int, cid: UUID, name: str, priority: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(data_header(cid, name, 1, priority=priority), ("127.0.0.1", port))


def test_sources_are_told_apart_from_our_own() -> None:
    async def body(sources: Sources, port: int) -> None:
        assert (await sources.answer(HERE, [1]))["sources"] == []
        say(port, OWN, "onecrew", 100)
        say(port, OTHER, "somebody else", 120)
        await asyncio.sleep(0.05)
        answer = await sources.answer(HERE, [1])
        assert answer["listening"]
        heard = {source["name"]: (source["ours"], source["priority"]) for source in answer["sources"]}
        assert heard == {"onecrew": (True, 100), "somebody else": (False, 120)}

    run(body)


def test_a_port_that_is_taken_is_said() -> None:
    async def body(sources: Sources, port: int) -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
            other.bind(("127.0.0.1", port))
            answer = await sources.answer(HERE, [1])
        assert not answer["listening"]
        assert str(port) in answer["note"]

    run(body)


def test_without_a_patch_there_is_nothing_to_listen_to() -> None:
    async def body(sources: Sources, port: int) -> None:
        assert "no lamp is patched" in (await sources.answer(HERE, []))["note"]

    run(body)


def test_the_port_is_given_back_after_the_last_question(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "PATIENCE_S", 0.05)

    async def body(sources: Sources, port: int) -> None:
        assert (await sources.answer(HERE, [1]))["listening"]
        for _ in range(200):
            await asyncio.sleep(0.01)
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
                try:
                    other.bind(("127.0.0.1", port))
                except OSError:
                    continue
                return
        raise AssertionError("the port was never given back")

    run(body)


def test_light_that_stays_on_this_machine_is_told_from_light_that_leaves_it() -> None:
    assert stays_here(HERE, [1])
    assert not stays_here(HERE, [1, 2])  # universe 2 goes by multicast
    away = Show(name="Away", output=Output(sacn=Sacn(universes={"1": SacnUniverse(to=("192.0.2.1",))})))
    assert not stays_here(away, [1])
