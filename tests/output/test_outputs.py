"""All outputs behind one door: which universe leaves by which protocol, and an end that is announced."""

from __future__ import annotations

from uuid import UUID

import numpy as np

from controller.documents.show import Artnet, ArtnetUniverse, Output, Sacn, SacnUniverse, Show
from controller.output.outputs import Outputs
from tests.fakes.sockets import FakeNetwork
from tests.wire.e131_layout import parse

CID = UUID("00010203-0405-0607-0809-0a0b0c0d0e0f")
SHOW = Show(
    name="Two ways",
    output=Output(
        sacn=Sacn(universes={"1": SacnUniverse(to=("127.0.0.1:15568",))}),
        artnet=Artnet(
            universes={"1": ArtnetUniverse(to=("127.0.0.2",)), "2": ArtnetUniverse(to=("127.0.0.2",))}
        ),
    ),
)


def slots(first: int, second: int) -> np.ndarray:
    rows = np.zeros((2, 512), dtype=np.uint8)
    rows[0, 0], rows[1, 0] = first, second
    return rows


def test_a_universe_goes_the_ways_that_name_it() -> None:
    network = FakeNetwork()
    outputs = Outputs(SHOW, (1, 2), CID, {}, 0.0, open_socket=network)
    outputs.send(slots(11, 22), 0.0)
    sacn = [parse(data) for data in network.to("127.0.0.1")]
    assert [(packet.universe, packet.slots[0]) for packet in sacn] == [(1, 11)]
    # ArtDmx: the low byte of the port-address is octet 14, the first slot octet 18 (Art-Net 4, from memory).
    artnet = network.to("127.0.0.2")
    assert [(data[14], data[18]) for data in artnet] == [(0, 11), (1, 22)]
    assert {(state.protocol, state.universe) for state in outputs.states()} == {
        ("sacn", 1),
        ("artnet", 1),
        ("artnet", 2),
    }


def test_a_universe_that_nothing_names_goes_by_multicast() -> None:
    network = FakeNetwork()
    outputs = Outputs(Show(name="Plain"), (3,), CID, {}, 0.0, open_socket=network)
    outputs.send(slots(1, 2)[:1], 0.0)
    # E1.31-2018 §9.3.1: universe 3 is 239.255.0.3.
    assert len(network.to("239.255.0.3")) == 1


def test_the_end_is_announced_three_times_and_paced() -> None:
    network = FakeNetwork()
    outputs = Outputs(SHOW, (1, 2), CID, {}, 0.0, open_socket=network)
    outputs.send(slots(11, 22), 0.0)
    moments: list[float] = []

    def wait_until(moment: float) -> float:
        moments.append(moment)
        return moment

    outputs.end(0.01, wait_until)
    last = [parse(data) for data in network.to("127.0.0.1")][-3:]
    assert [packet.terminated for packet in last] == [True, True, True]
    assert moments == sorted(moments)
    assert outputs.next_due(9.0) == float("inf")
