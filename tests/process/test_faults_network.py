"""The network goes and comes back: the engine goes on, says so, and the present look is the first to leave.

Real cables (a veth pair between two network namespaces) where the machine allows them, and the same errors
injected into the engine. Linux gives an interface that comes up its routes back; the address stays meanwhile.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest

from tests.process.namespaces import Namespaces, needs_namespaces
from tests.process.sandbox import SHOW, PacketReceiver, Sandbox
from tests.process.test_crashes import level
from tests.process.test_faults_disk import INJECTED

DESK, LAMP, NOBODY, ELSEWHERE = "10.77.0.1", "10.77.0.2", "10.77.0.99", "192.0.2.1"  # RFC 1918, RFC 5737
PORT = 5568


class Cable(Protocol):
    """What lies between the engine and the lamp."""

    sandbox: Sandbox

    def cut(self) -> None: ...
    def mend(self) -> None: ...


class RealCable:
    """Engine and lamp in two network namespaces with a virtual cable between them, and no way out."""

    def __init__(self, folder: Path, to: tuple[str, ...] = (f"{LAMP}:{PORT}",)) -> None:
        needs_namespaces()
        self._short = tempfile.TemporaryDirectory()  # the path of a Unix socket has to be short
        room = Path(self._short.name)
        self._desk = Namespaces("net")
        self._lamp = Namespaces("net", beside=self._desk)
        self._desk.run("ip", "link", "add", "name", "desk", "type", "veth", "peer", "name", "lamp")
        self._desk.run("ip", "link", "set", "lamp", "netns", str(self._lamp.pid))
        self._desk.run("ip", "address", "add", f"{DESK}/24", "dev", "desk")
        self._lamp.run("ip", "address", "add", f"{LAMP}/24", "dev", "lamp")
        self._desk.run("ip", "link", "set", "desk", "up")
        self._lamp.run("ip", "link", "set", "lamp", "up")
        document = {**SHOW, "output": {"sacn": {"universes": {"1": {"to": list(to)}}}}}
        self.sandbox = Sandbox(folder, document, PacketReceiver(room / "receiver"))
        self.sandbox.prefix, self.sandbox.relay = self._desk.prefix, room / "link"
        self._relays = [
            self._relay(self._lamp, "lamp", LAMP, str(PORT), str(room / "receiver")),
            self._relay(self._desk, "link", str(room / "link")),
        ]

    @staticmethod
    def _relay(where: Namespaces, *words: str) -> subprocess.Popen[str]:
        script = Path(__file__).with_name("namespace_relay.py")
        command = [*where.prefix, sys.executable, "-P", str(script), *words]
        relay = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert relay.stdout is not None
        assert relay.stdout.readline() == "ready\n"
        return relay

    def cut(self) -> None:
        self._desk.run("ip", "link", "set", "desk", "down")

    def mend(self) -> None:
        self._desk.run("ip", "link", "set", "desk", "up")

    def move(self, address: str) -> None:
        """Gives the desk another address, as a new lease would."""
        self._desk.run("ip", "address", "flush", "dev", "desk")
        self._desk.run("ip", "address", "add", f"{address}/24", "dev", "desk")

    def cut_at_the_lamp(self) -> None:
        self._lamp.run("ip", "link", "set", "lamp", "down")

    def mend_at_the_lamp(self) -> None:
        self._lamp.run("ip", "link", "set", "lamp", "up")

    def route_everything_to_the_lamp(self) -> None:
        self._desk.run("ip", "route", "add", "default", "via", LAMP)

    def close(self) -> None:
        self.sandbox.close_processes()
        for relay in self._relays:
            relay.kill()
            relay.communicate()
        self.sandbox.close()
        for namespace in (self._lamp, self._desk):
            namespace.close()
        self._short.cleanup()


class InjectedCable:
    """Loopback, with an engine whose datagrams do not leave."""

    def __init__(self, folder: Path) -> None:
        self.sandbox = Sandbox(folder)
        faults = folder / "faults"
        faults.mkdir()
        self._fault = faults / "network-down"
        self.sandbox.env |= {"PYTHONPATH": str(INJECTED), "ONECREW_TEST_FAULTS": str(faults)}

    def cut(self) -> None:
        self._fault.touch()

    def mend(self) -> None:
        self._fault.unlink()

    def close(self) -> None:
        self.sandbox.close()


@pytest.fixture(params=[RealCable, InjectedCable], ids=["real", "injected"])
def cable(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Cable]:
    cable = request.param(tmp_path)
    yield cable
    cable.close()


@pytest.fixture
def real(tmp_path: Path) -> Iterator[RealCable]:
    cable = RealCable(tmp_path)
    yield cable
    cable.close()


def output(status: dict[str, Any], to: str = "") -> dict[str, Any]:
    [found] = [one for one in status["outputs"] if to in one["to"]]
    return dict(found)


def test_an_interface_that_goes_down_and_up_again_costs_nothing_but_the_time_between(cable: Cable) -> None:
    sandbox = cable.sandbox
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    before = sandbox.wait_status()
    cable.cut()
    lost = sandbox.wait_status(lambda status: output(status)["state"] == "failing")
    assert "network" in output(lost)["error"]
    sandbox.tell(kind="set", fixtures=["window"], level=1.0)  # commands go on
    sandbox.receiver.catch_up()
    mark = len(sandbox.receiver.packets)
    cable.mend()
    assert level(sandbox.receiver.wait(lambda packet: True, mark)) == 65535  # the look of now, nothing older
    healed = sandbox.wait_status(lambda status: output(status)["state"] == "ok")
    assert output(healed)["error"] == ""
    assert output(healed)["errors"] > 0
    assert healed["engine_pid"] == before["engine_pid"]


def test_a_fade_runs_on_while_the_network_is_away(cable: Cable) -> None:
    sandbox = cable.sandbox
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    cable.cut()
    sandbox.tell(kind="recall", cue="2", fade_s=1.5)
    sandbox.wait_status(lambda status: status["lights"]["window"]["level"] > 0.7)
    mark = len(sandbox.receiver.packets)
    cable.mend()
    sandbox.receiver.wait(lambda packet: level(packet) == 65535, mark)
    levels = [level(packet) for packet in sandbox.receiver.since(mark)]
    assert levels[0] >= 0.7 * 65535 - 1
    assert levels == sorted(levels)


def test_another_address_of_the_desk_needs_no_restart(real: RealCable) -> None:
    sandbox = real.sandbox
    sandbox.engine()
    sandbox.receiver.wait(lambda packet: True)
    real.move("10.77.0.3")
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.wait(lambda packet: level(packet) == 32768)
    assert output(sandbox.wait_status())["state"] == "ok"


def test_a_lamp_whose_cable_is_pulled_is_fed_again_when_it_is_back(real: RealCable) -> None:
    sandbox = real.sandbox
    sandbox.engine()
    sandbox.receiver.wait(lambda packet: True)
    real.cut_at_the_lamp()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.receiver.catch_up()
    mark = len(sandbox.receiver.packets)
    real.mend_at_the_lamp()
    # One that left before the cable was pulled may be heard as late as now: two processes lie between.
    lit = sandbox.receiver.wait(lambda packet: level(packet) == 32768, mark)
    assert (
        level(
            sandbox.receiver.wait(
                lambda packet: packet.sequence != lit.sequence, len(sandbox.receiver.packets)
            )
        )
        == 32768
    )


def test_multicast_with_the_cable_out_is_failing_and_goes_on_with_the_cable_back(tmp_path: Path) -> None:
    """Nothing tells the sender of a multicast that its interface has no carrier: it is looked at."""
    cable = RealCable(tmp_path, to=())
    try:
        cable.route_everything_to_the_lamp()
        cable.sandbox.engine()
        cable.sandbox.wait_status(lambda status: output(status)["state"] == "ok")
        cable.cut_at_the_lamp()
        cable.sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        failing = output(cable.sandbox.wait_status(lambda status: output(status)["state"] == "failing"))
        assert "interface desk is down" in failing["error"]
        cable.mend_at_the_lamp()
        mended = output(cable.sandbox.wait_status(lambda status: output(status)["state"] == "ok"))
        assert mended["error"] == ""
    finally:
        cable.close()


def test_destinations_that_cannot_be_reached_do_not_hold_up_the_others(tmp_path: Path) -> None:
    real = RealCable(tmp_path, to=(f"{ELSEWHERE}", f"{NOBODY}", f"{LAMP}:{PORT + 1}", f"{LAMP}:{PORT}"))
    try:
        sandbox = real.sandbox
        sandbox.engine()
        sandbox.tell(kind="recall", cue="2", fade_s=1.5)
        status = sandbox.wait_status(lambda status: status["cue"] == "2" and status["fade"] is None)
        sandbox.receiver.wait(lambda packet: level(packet) == 65535)
        packets = sandbox.receiver.since(0)
        numbers = [packet.sequence for packet in packets]
        assert numbers == [(numbers[0] + step) % 256 for step in range(len(numbers))]
        assert output(status, ELSEWHERE)["state"] == "failing"
        assert "no way to this network" in output(status, ELSEWHERE)["error"]
        assert "nothing listens" in output(status, f"{LAMP}:{PORT + 1}")["error"]
        assert output(status, f"{LAMP}:{PORT}")["state"] == "ok"
        # Nobody answers at the fourth: the system finds out after three tries of a second each.
        sandbox.wait_status(lambda now: "nobody answers" in output(now, NOBODY)["error"])
    finally:
        real.close()


def test_a_port_where_nobody_listens_is_said_and_holds_up_nothing(tmp_path: Path) -> None:
    sandbox = Sandbox(tmp_path)
    try:
        document = json.loads(sandbox.show.read_text())
        document["output"]["sacn"]["universes"]["1"]["to"].insert(0, "127.0.0.1:9")
        sandbox.show.write_text(json.dumps(document))
        sandbox.engine()
        sandbox.tell(kind="recall", cue="1", fade_s=0.0)
        sandbox.receiver.wait(lambda packet: level(packet) == 32768)
        status = sandbox.wait_status(lambda status: output(status, ":9")["error"] != "")
        assert "nothing listens there" in output(status, ":9")["error"]
        assert output(status, str(sandbox.receiver.port))["error"] == ""
    finally:
        sandbox.close()
