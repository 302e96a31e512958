"""Who else sends: heard on a real socket while somebody asks, and the port given back after that."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import Awaitable, Callable
from uuid import UUID

import pytest

from onecrew.engine import sources as module
from onecrew.engine.sources import RELEASED_S, Sources, stays_here
from onecrew.network.artnet_packets import art_dmx, art_poll
from onecrew.network.listening import listening_socket
from onecrew.network.sacn_packets import data_header
from onecrew.show.show import Artnet, ArtnetUniverse, Output, Sacn, SacnUniverse, Show
from tests.wire.test_artnet import poll_reply

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


def test_the_port_is_given_to_who_asks_for_it_and_taken_again_later(monkeypatch: pytest.MonkeyPatch) -> None:
    async def body(sources: Sources, port: int) -> None:
        assert (await sources.answer(HERE, [1]))["listening"]
        assert not sources.release()["listening"]
        answer = await sources.answer(HERE, [1])
        assert not answer["listening"] and "onecrew watch" in answer["note"]
        await asyncio.sleep(0.0)  # asyncio closes sockets in its next round
        listening_socket("127.0.0.1", port).close()
        monkeypatch.setattr(asyncio.get_running_loop(), "time", lambda now=time.monotonic: now() + RELEASED_S)
        assert (await sources.answer(HERE, [1]))["listening"]

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


def test_art_net_nodes_are_asked_where_the_show_is_sent_and_senders_are_heard() -> None:
    """A node on loopback answers with its poll reply; another sends ArtDmx for port-address 3."""

    async def scene() -> None:
        port = free_port()
        sources = Sources(OWN, free_port(), port)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as node:
            node.bind(("127.0.0.1", 0))
            node.setblocking(False)
            way = f"127.0.0.1:{node.getsockname()[1]}"
            artnet = Artnet(universes={"1": ArtnetUniverse(to=(way,), port_address=3)})
            show = HERE.model_copy(update={"output": HERE.output.model_copy(update={"artnet": artnet})})
            loop = asyncio.get_running_loop()
            asked = asyncio.ensure_future(sources.answer(show, [1]))
            packet, asker = await asyncio.wait_for(loop.sock_recvfrom(node, 2048), 5)
            assert packet == art_poll() and asker[1] == port
            node.sendto(poll_reply(), asker)
            node.sendto(bytes(art_dmx(3)), asker)
            node.sendto(b"Art-Net\0nonsense", asker)
            await asked
            answer = await sources.answer(show, [1])
            assert [(one["name"], one["address"]) for one in answer["nodes"]] == [
                ("the oven's tube", "127.0.0.1")
            ]
            assert answer["nodes_note"] == ""
            [sender] = [one for one in answer["sources"] if one["protocol"] == "artnet"]
            assert (sender["universe"], sender["ours"]) == (3, True)  # of this machine
            assert "nodes" not in await sources.answer(HERE, [1])
            sources.close()
            await asyncio.sleep(0.05)  # the loop closes a socket at its next turn
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as again:
                again.bind(("127.0.0.1", port))  # the port is given back
                refused = await sources.answer(show, [1])
                assert "in use by another program" in refused["nodes_note"]
            sources.close()

    asyncio.run(asyncio.wait_for(scene(), 20))
