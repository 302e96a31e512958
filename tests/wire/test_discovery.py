"""Universe discovery: ANSI E1.31-2018 §4.3, §8, §12, on a simulated clock."""

from __future__ import annotations

import pytest

from onecrew.network.sacn_output import SacnOutput
from onecrew.show.show import Sacn, SacnUniverse
from tests.fakes.sockets import FakeNetwork
from tests.wire.driving import CID, LAMP, Drive, output, sacn, slots

DISCOVERY_GROUP = "239.255.250.214"  # Appendix A


def test_discovery_every_ten_seconds_with_every_universe() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({7: (), 1: (), 2: (LAMP,)}), network), network)
    drive.send(slots(1, 2, 3), 0.0)
    drive.until(35.0)
    assert drive.times(DISCOVERY_GROUP, "discovery") == pytest.approx([0.0, 10.0, 20.0, 30.0])
    assert {packet.universes for packet in drive.packets(kind="discovery")} == {(1, 2, 7)}


def test_discovery_leaves_by_each_interface_in_use() -> None:
    network = FakeNetwork()
    listed = {
        "1": SacnUniverse(interface="192.0.2.7"),
        "2": SacnUniverse(to=(LAMP,), interface="192.0.2.8"),
        "3": SacnUniverse(to=(LAMP,)),
    }
    out = SacnOutput(Sacn(universes=listed), (1, 2, 3), CID, "bakery", {}, 0.0, open_socket=network)
    out.send(slots(1, 2, 3), 0.0)
    by = {address.interface for address, _ in network.left if address.host == DISCOVERY_GROUP}
    assert by == {"192.0.2.7", "192.0.2.8"}


@pytest.mark.parametrize(("asked", "to", "leaves"), [(True, (LAMP,), True), (False, (), False)])
def test_discovery_as_asked(asked: bool, to: tuple[str, ...], leaves: bool) -> None:
    network = FakeNetwork()
    out = SacnOutput(sacn({1: to}), (1,), CID, "bakery", {}, 0.0, open_socket=network, discovery=asked)
    out.send(slots(1), 0.0)
    assert any(address.host == DISCOVERY_GROUP for address, _ in network.left) is leaves


def test_discovery_says_so_once_when_universes_change() -> None:
    network = FakeNetwork()
    drive = Drive(output(sacn({1: ()}), network), network)
    drive.send(slots(1), 0.0)
    for at, universes in [(2.0, (1, 2)), (3.0, (1, 2, 3)), (4.0, (1, 4))]:
        drive.until(at)
        drive.out.reconfigure(sacn(dict.fromkeys(universes, ())), universes, "bakery", at)
        drive.send(slots(*universes), at)
    drive.until(25.0)
    said = [(at, packet.universes) for at, _, packet in drive.log if packet.kind == "discovery"]
    assert [(round(at, 6), universes) for at, universes in said] == [
        (0.0, (1,)),
        (2.0, (1, 2)),  # §4.3: at most one more set in an interval
        (10.0, (1, 4)),
        (20.0, (1, 4)),
    ]
