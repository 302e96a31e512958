"""OSC into and out of a running engine, over real sockets on loopback; light is judged by the packets heard.

Messages are built and read by python-osc here, not by what the engine uses.
"""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from pythonosc.dispatcher import Dispatcher
from pythonosc.osc_bundle_builder import IMMEDIATELY, OscBundleBuilder
from pythonosc.osc_message_builder import build_msg
from pythonosc.osc_packet import OscPacket
from pythonosc.osc_server import ThreadingOSCUDPServer
from pythonosc.udp_client import SimpleUDPClient

from onecrew.show.show import Osc
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.wire.e131_layout import Packet


def free_port(kind: int = socket.SOCK_DGRAM) -> int:
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Controller:
    """A device with OSC: sends to the engine and keeps what comes back."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.bind(("127.0.0.1", 0))
        self.heard: list[tuple[str, list[Any]]] = []

    def send(self, address: str, *values: Any) -> None:
        self.raw(build_msg(address, list(values)).dgram)

    def raw(self, data: bytes) -> None:
        self.socket.sendto(data, ("127.0.0.1", self.port))

    def wait(self, address: str, fits: Callable[[list[Any]], bool] = lambda _: True) -> list[Any]:
        """The arguments of the first message to this address that fits."""
        deadline = time.monotonic() + WAIT_S
        self.socket.settimeout(0.1)
        seen = 0
        while time.monotonic() < deadline:
            for where, arguments in self.heard[seen:]:
                seen += 1
                if where == address and fits(arguments):
                    return arguments
            with contextlib.suppress(TimeoutError):
                packet = OscPacket(self.socket.recv(4096))
                self.heard += [(timed.message.address, timed.message.params) for timed in packet.messages]
        raise AssertionError(f"nothing fits {address} in {self.heard}")


def with_osc(sandbox: Sandbox, port: int, **options: Any) -> None:
    document = json.loads(sandbox.show.read_text())
    document["remote"] = {"osc": {"listen": f"127.0.0.1:{port}", **options}}
    sandbox.show.write_text(json.dumps(document))


@pytest.fixture
def controller(sandbox: Sandbox) -> Iterator[Controller]:
    """An engine that hears OSC, and a device that speaks it."""
    controller = Controller(free_port())
    with_osc(sandbox, controller.port)
    sandbox.engine()
    sandbox.wait_status(lambda status: status["remote"]["osc"]["state"] == "listening")
    yield controller
    controller.socket.close()


def dimmer(packet: Packet) -> int:
    return packet.slots[0] * 256 + packet.slots[1]


def level(share: float) -> Callable[[Packet], bool]:
    # 16-bit dimmer, half up (own convention).
    return lambda packet: dimmer(packet) == int(65535 * share + 0.5)


def test_a_command_by_osc_reaches_the_lamp(sandbox: Sandbox, controller: Controller) -> None:
    controller.send("/onecrew/light/window/level", 0.25)
    sandbox.receiver.wait(level(0.25))
    controller.send("/onecrew/light/*/level", 0.5)
    packet = sandbox.receiver.wait(lambda packet: level(0.5)(packet) and packet.slots[20] == 128)
    assert packet.universe == 1
    controller.send("/onecrew/cue/1", 1.0)
    controller.send("/onecrew/cue/1", 0.0)
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)


def test_a_datagram_sent_at_ready_is_heard(sandbox: Sandbox) -> None:
    """Once only, and nobody waits for a state: what comes before the socket is open would be lost."""
    controller = Controller(free_port())
    with_osc(sandbox, controller.port)
    sandbox.engine()
    controller.send("/onecrew/light/window/level", 0.25)
    sandbox.receiver.wait(level(0.25))
    controller.socket.close()


def test_a_bundle_changes_the_lamps_in_one_frame(sandbox: Sandbox, controller: Controller) -> None:
    for step in range(1, 11):
        builder = OscBundleBuilder(IMMEDIATELY)
        builder.add_content(build_msg("/onecrew/light/window/level", step / 20))
        builder.add_content(build_msg("/onecrew/light/pendant/level", step / 20))
        mark = len(sandbox.receiver.packets)
        controller.raw(builder.build().dgram)
        packet = sandbox.receiver.wait(level(step / 20), mark)
        assert packet.slots[20] == int(255 * step / 20 + 0.5)
        before = [other for other in sandbox.receiver.since(mark) if not level(step / 20)(other)]
        assert all(other.slots[20] == int(255 * (step - 1) / 20 + 0.5) for other in before)


def test_a_bundle_for_later_is_not_run_before(sandbox: Sandbox, controller: Controller) -> None:
    builder = OscBundleBuilder(time.time() + 0.5)  # type: ignore[arg-type]
    builder.add_content(build_msg("/onecrew/light/window/level", 0.75))
    sent = time.monotonic()
    controller.raw(builder.build().dgram)
    controller.send("/onecrew/light/window/level", 0.25)  # the loop goes on meanwhile
    sandbox.receiver.wait(level(0.25))
    sandbox.receiver.wait(level(0.75))
    came = next(at for at, packet in sandbox.receiver.packets if level(0.75)(packet))
    assert came - sent >= 0.45


def test_a_refusal_comes_back_in_words(sandbox: Sandbox, controller: Controller) -> None:
    controller.send("/onecrew/lock", True)
    controller.send("/onecrew/go")
    where, sentence = controller.wait("/onecrew/refused")
    assert where == "/onecrew/go"
    assert "locked" in sentence
    controller.send("/onecrew/master", 2.0)
    where, sentence = controller.wait("/onecrew/refused", lambda values: values[0] == "/onecrew/master")
    assert sentence.endswith("2.0 is above 1; give a number from 0 to 1")
    assert sandbox.wait_status()["cue"] is None


def test_reports_say_what_happens(sandbox: Sandbox, controller: Controller) -> None:
    controller.send("/onecrew/report", None, 20.0, 60)
    assert controller.wait("/onecrew/state/cue") == ["", ""]
    assert controller.wait("/onecrew/state/next") == ["1", "Half"]
    assert controller.wait("/onecrew/state/light/pendant/level") == [0.0]
    controller.send("/onecrew/go")
    assert controller.wait("/onecrew/state/cue", lambda values: values[0] == "1") == ["1", "Half"]
    controller.wait("/onecrew/state/fade", lambda values: 0.0 < values[0] < 1.0)
    controller.wait("/onecrew/state/light/pendant/level", lambda values: values == [pytest.approx(0.2)])
    controller.send("/onecrew/countdown", 30, "recall", "2")
    assert controller.wait("/onecrew/state/countdown", lambda values: values[0] > 0)[1] == "recall 2"
    controller.send("/onecrew/take-start", "Oven")
    assert controller.wait("/onecrew/state/take", lambda values: values[2] == 1) == ["Oven", 1, 1]
    controller.send("/onecrew/report-end")
    sandbox.wait_status(lambda status: status["remote"]["osc"]["receivers"] == 0)


@contextlib.contextmanager
def surface() -> Iterator[tuple[int, list[tuple[str, float]]]]:
    """A control surface as python-osc itself makes one: the port it listens on, and what it was sent."""
    heard: list[tuple[str, float]] = []
    dispatcher = Dispatcher()
    dispatcher.set_default_handler(lambda address, *values: heard.append((address, values[0])))
    server = ThreadingOSCUDPServer(("127.0.0.1", 0), dispatcher)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_address[1], heard
    finally:
        server.shutdown()
        server.server_close()
        thread.join(WAIT_S)


@contextlib.contextmanager
def device(port: int) -> Iterator[SimpleUDPClient]:
    client = SimpleUDPClient("127.0.0.1", port)
    yield client
    client._sock.close()  # python-osc leaves it open


def eventually(fits: Callable[[], bool]) -> None:
    deadline = time.monotonic() + WAIT_S
    while not fits():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_a_control_surface_of_the_show_follows_on_the_addresses_that_it_sends(sandbox: Sandbox) -> None:
    own = free_port()
    with surface() as (port, heard), device(own) as client:
        with_osc(sandbox, own, feedback=[f"127.0.0.1:{port}"])
        sandbox.engine()
        window = "/onecrew/light/window/level"
        eventually(lambda: (window, 0.0) in heard and ("/onecrew/cue/1", 0.0) in heard)
        for step in range(1, 26):  # a hand moves the fader: nothing comes back meanwhile
            client.send_message(window, step / 50)
            time.sleep(0.01)
        sandbox.receiver.wait(level(0.5))
        assert [value for where, value in heard if where == window] == [0.0]
        eventually(lambda: [value for where, value in heard if where == window][-1] == 0.5)
        client.send_message("/onecrew/light/window/cct-fader", 0.0)
        eventually(lambda: any(where == "/onecrew/light/window/cct" for where, _ in heard))
        sandbox.send("blackout", "on")
        eventually(lambda: ("/onecrew/blackout", 1.0) in heard)
        client.send_message("/onecrew/blackout", 0.0)
        sandbox.wait_status(lambda status: not status["blackout"])
        client.send_message("/onecrew/cue/1", 1.0)
        client.send_message("/onecrew/cue/1", 0.0)
        eventually(lambda: ("/onecrew/cue/1", 1.0) in heard)


def test_a_surface_that_sends_back_what_it_is_sent_disturbs_nothing(sandbox: Sandbox) -> None:
    own = free_port()
    with surface() as (port, heard), device(own) as client:
        with_osc(sandbox, own, feedback=[f"127.0.0.1:{port}"])
        sandbox.engine()
        eventually(lambda: ("/onecrew/state/fade", 1.0) in heard)
        sandbox.send("recall", "1", "in", "2s")
        seen = 0

        def fade_is_over() -> bool:
            """Sends back what has come since it was asked last."""
            nonlocal seen
            news, seen = heard[seen:], len(heard)
            for where, value in news:
                if "/state/" not in where:
                    client.send_message(where, value)
            return ("/onecrew/light/window/level", 0.5) in news

        eventually(fade_is_over)
        status = sandbox.wait_status(lambda status: status["fade"] is None)
        assert status["cue"] == "1"
        assert not any(light["edited"] for light in status["lights"].values())
        assert status["lights"]["window"]["level"] == pytest.approx(0.5)


def test_reports_that_are_not_renewed_end(sandbox: Sandbox, controller: Controller) -> None:
    controller.send("/onecrew/report", None, None, 1)
    controller.wait("/onecrew/state/cue")
    sandbox.wait_status(lambda status: status["remote"]["osc"]["receivers"] == 0)


def test_the_show_moves_osc_while_the_engine_runs(sandbox: Sandbox, controller: Controller) -> None:
    elsewhere = Controller(free_port())
    remote = {"osc": {"listen": f"127.0.0.1:{elsewhere.port}"}}
    controller.send("/onecrew/set-remote", json.dumps(remote))
    sandbox.wait_status(lambda status: status["remote"]["osc"].get("at", "").endswith(str(elsewhere.port)))
    controller.send("/onecrew/light/window/level", 0.9)  # nobody is there any more
    elsewhere.send("/onecrew/light/window/level", 0.1)
    sandbox.receiver.wait(level(0.1))
    assert not any(level(0.9)(packet) for _, packet in sandbox.receiver.packets)
    elsewhere.send("/onecrew/set-remote", "{}")
    sandbox.wait_status(lambda status: status["remote"].get("osc", {}).get("state", "off") == "off")
    elsewhere.socket.close()


def test_a_port_that_is_taken_is_a_state_that_heals(sandbox: Sandbox, tmp_path: Path) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        with_osc(sandbox, port)
        sandbox.engine_without_ready()
        status = sandbox.wait_status(lambda status: status["remote"]["osc"]["state"] == "failing")
        assert f"127.0.0.1:{port}" in status["remote"]["osc"]["error"]
        assert "free the port" in status["message"]
        sandbox.send("recall", "1", "in", "0s")
        sandbox.receiver.wait(level(0.5))
    status = sandbox.wait_status(lambda status: status["remote"]["osc"]["state"] == "listening")
    assert status["remote"]["osc"]["error"] == ""
    controller = Controller(port)
    controller.send("/onecrew/light/window/level", 0.25)
    sandbox.receiver.wait(level(0.25))
    controller.socket.close()


def test_an_address_of_another_machine_is_said_and_does_no_harm(sandbox: Sandbox) -> None:
    """192.0.2.0/24 is nobody's (RFC 5737)."""
    document = json.loads(sandbox.show.read_text())
    document["remote"] = {"osc": {"listen": "192.0.2.7:9001"}, "page": {"listen": "192.0.2.7:9080"}}
    sandbox.show.write_text(json.dumps(document))
    sandbox.engine_without_ready()
    status = sandbox.wait_status(lambda status: status["remote"].get("page", {}).get("state") == "failing")
    osc, page = status["remote"]["osc"], status["remote"]["page"]
    why = "not an address of this machine; give one that is"
    assert osc["error"] == f"OSC cannot be received at 192.0.2.7:9001: {why}"
    assert page["error"] == f"the phone page cannot be served at 192.0.2.7:9080: {why}"
    sandbox.send("recall", "1", "in", "0s")
    sandbox.receiver.wait(level(0.5))
    piped = sandbox.run("pair", str(sandbox.show))
    assert piped.returncode == 1 and why in piped.stderr


def test_no_second_program_can_take_the_port_over(controller: Controller) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as thief:
        thief.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        with pytest.raises(OSError, match="in use"):
            thief.bind(("127.0.0.1", controller.port))


def test_an_engine_that_was_killed_hears_osc_again(sandbox: Sandbox, controller: Controller) -> None:
    controller.send("/onecrew/light/window/level", 0.25)
    sandbox.receiver.wait(level(0.25))
    pid = sandbox.wait_status()["engine_pid"]
    kill(pid)
    sandbox.wait_status(
        lambda status: status["engine_pid"] != pid and status["remote"]["osc"]["state"] == "listening"
    )
    controller.send("/onecrew/light/window/level", 0.75)
    sandbox.receiver.wait(level(0.75))


def test_a_show_without_osc_has_no_open_port_for_it(sandbox: Sandbox) -> None:
    sandbox.engine()
    engine = psutil.Process(sandbox.wait_status()["engine_pid"])
    default = int(Osc().listen.rpartition(":")[2])
    assert default not in {one.laddr.port for one in engine.net_connections("udp")}
    assert sandbox.wait_status()["remote"] == {}
