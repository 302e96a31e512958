"""watch on a real socket on loopback; the packets are built by the sacn package."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest
from sacn.messages.data_packet import DataPacket

from onecrew.cli import watch  # loaded before the clock of a short look runs
from onecrew.network.listening import listening_socket
from tests.cli.conftest import Ended
from tests.cli.test_documents import lamp, write

Run = Callable[..., Ended]


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


@contextmanager
def sending(port: int, *packets: DataPacket, to: tuple[str, int] | None = None) -> Iterator[None]:
    """Sends the packets every few milliseconds, sequences rising, until the end of the block."""
    ended = threading.Event()

    def send() -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            while not ended.wait(0.02):
                for packet in packets:
                    packet.sequence_increase()
                    sock.sendto(bytes(packet.getBytes()), to or ("127.0.0.1", port))

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


def packet(name: str, universe: int, *slots: int, priority: int = 100) -> DataPacket:
    cid = tuple((name * 16).encode()[:16])
    return DataPacket(cid, name, universe, (*slots, *([0] * (512 - len(slots)))), priority=priority)


def test_sources_priorities_and_conflicts_are_told(onecrew: Run) -> None:
    port = free_port()
    with sending(port, packet("desk", 1, 10, 20), packet("other", 1, 30), packet("quiet", 2, 5, priority=50)):
        ended = onecrew("watch", "--port", str(port), "--for", "0.6", "--json")
    assert (ended.status, ended.err) == (0, "")
    first, second = ended.json["universes"]
    assert (first["universe"], first["slots"]) == (1, [30, 20])  # the higher level of each slot
    assert "same priority 100" in first["conflict"]
    assert {one["name"] for one in first["sources"]} == {"desk", "other"}
    assert (second["slots"], second["sources"][0]["priority"], second["conflict"]) == ([5], 50, None)
    assert ended.json["bad"] == 0


def test_one_universe_can_be_watched_alone(onecrew: Run) -> None:
    port = free_port()
    with sending(port, packet("desk", 1, 10), packet("desk", 2, 10)):
        facts = onecrew("watch", "--port", str(port), "--universe", "2", "--for", "0.4", "--json").json
    assert [one["universe"] for one in facts["universes"]] == [2]


def test_a_show_turns_slots_into_lamps(onecrew: Run) -> None:
    lamps = [lamp("left", 1, profile="spot-daylight"), lamp("right", 5, profile="spot-daylight")]
    path = write({"rig": {"fixtures": lamps}, "output": sent_to(u1={"to": ["127.0.0.1"]})})
    port = free_port()
    with sending(port, packet("desk", 1, 255, 0, 0, 0, 0)):
        facts = onecrew("watch", path, "--port", str(port), "--for", "0.4", "--json").json
    assert {one["id"]: one["level"] for one in facts["lamps"]} == {"left": 1.0, "right": 0.0}


def test_without_a_terminal_each_change_is_a_line(onecrew: Run) -> None:
    port = free_port()
    with sending(port, packet("desk", 1, 10)):
        ended = onecrew("watch", "--port", str(port), "--for", "0.6")
    assert (ended.status, ended.err) == (0, "")
    assert (
        sum("desk (127.0.0.1) is heard, priority 100, in control" in line for line in ended.out.splitlines())
        == 1
    )
    assert "\x1b" not in ended.out


def send_when_heard(port: int, data: bytes) -> None:
    """Sends once to whoever listens: a connected socket learns when nobody does (ICMP, port unreachable)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.connect(("127.0.0.1", port))
        for _ in range(2000):
            with contextlib.suppress(ConnectionRefusedError):
                sock.send(data)
                if sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR) == 0:
                    return
            time.sleep(0.005)


def test_garbage_is_counted(onecrew: Run) -> None:
    port = free_port()
    sender = threading.Thread(target=send_when_heard, args=(port, b"garbage"))
    sender.start()
    facts = onecrew("watch", "--port", str(port), "--for", "0.6", "--json").json
    sender.join()
    assert (facts["bad"], facts["universes"]) == (1, [])


def test_a_port_in_use_is_a_sentence(onecrew: Run) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("0.0.0.0", 0))
        port = sock.getsockname()[1]
        ended = onecrew("watch", "--port", str(port), "--for", "1")
    assert (ended.status, ended.out) == (1, "")
    assert f"{port}" in ended.err and "in use" in ended.err
    assert ended.err.count("\n") == 1


def test_a_faulty_show_is_told_before_anything_listens(onecrew: Run) -> None:
    Path("show.json").write_text("{")
    ended = onecrew("watch", "show.json", "--for", "1")
    assert (ended.status, ended.out) == (1, "")
    assert "show.json" in ended.err


def sent_to(**universes: Mapping[str, object]) -> dict[str, object]:
    return {"sacn": {"universes": {name.removeprefix("u"): one for name, one in universes.items()}}}


def test_a_show_that_sends_by_multicast_has_its_groups_joined(onecrew: Run) -> None:
    lamps = [lamp("left", 1, profile="spot-daylight", universe=41234)]
    path = write({"rig": {"fixtures": lamps}, "output": sent_to(u41234={"interface": "127.0.0.1"})})
    port = free_port()
    group = ("239.255.161.18", port)  # E1.31-2018 9.3.1: 239.255 and the universe in two bytes
    with sending(port, packet("desk", 41234, 255), to=group):
        deaf = onecrew("watch", "--port", str(port), "--for", "0.4", "--json").json
        facts = onecrew("watch", path, "--port", str(port), "--for", "0.4", "--json").json
    assert deaf["received"] == 0  # on Linux a group is heard by all as soon as anybody here joined it
    assert [(one["level"], one["heard"]) for one in facts["lamps"]] == [(1.0, True)]


def test_lamps_of_a_universe_that_nobody_sends_are_not_heard(onecrew: Run) -> None:
    lamps = [lamp("left", 1, profile="spot-daylight"), lamp("far", 1, profile="spot-daylight", universe=2)]
    here = {"to": ["127.0.0.1"]}
    path = write({"rig": {"fixtures": lamps}, "output": sent_to(u1=here, u2=here)})
    port = free_port()
    with sending(port, packet("desk", 1, 0)):
        said = onecrew("watch", path, "--port", str(port), "--for", "0.4").out.splitlines()
    rows = {line.split()[0]: line for line in said if line.startswith(("left ", "far "))}
    assert "0.00 %" in rows["left"]
    assert rows["far"].split() == ["far", "not", "heard"]


def test_where_nothing_arrives_it_says_why_that_may_be(onecrew: Run) -> None:
    port = free_port()
    assert (
        "multicast is received with --multicast" in onecrew("watch", "--port", str(port), "--for", "0.1").out
    )
    lamps = [lamp("left", 1, profile="spot-daylight"), lamp("far", 1, profile="spot-daylight", universe=2)]
    output = sent_to(u1={"to": ["127.0.0.1:5570"]}, u2={"to": [f"192.0.2.7:{port}"]})
    path = write({"rig": {"fixtures": lamps}, "output": output})
    said = onecrew("watch", path, "--port", str(port), "--for", "0.1").out
    assert f"universe 1 to port 5570, not {port}: use --port 5570" in said
    assert "universe 2 to 192.0.2.7: received on that machine alone" in said
    assert said.count("Nothing arrives") == 1


@pytest.mark.parametrize("port", ["000001999999", "0", "65536", "²"])
def test_a_port_that_is_none_is_refused(port: str, onecrew: Run) -> None:
    ended = onecrew("watch", "--port", port, "--for", "0.1")
    assert (ended.status, ended.out) == (2, "")
    assert port in ended.err


def test_it_listens_in_place_of_an_engine_of_ones_own(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine listens on the sACN port while Rig shows who else sends; it gives the port up when asked."""
    port = free_port()
    monkeypatch.setattr(watch, "SACN_PORT", port)
    engine = listening_socket("127.0.0.1", port)

    async def gives_up() -> bool:
        engine.close()
        return True

    monkeypatch.setattr(watch, "engines_give_up_the_port", gives_up)
    with sending(port, packet("desk", 1, 10)):
        ended = onecrew("watch", "--port", str(port), "--for", "0.6")
    assert (ended.status, ended.err) == (0, "") and "desk" in ended.out


def test_a_port_that_another_program_has_is_said(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    port = free_port()
    monkeypatch.setattr(watch, "SACN_PORT", port)
    with contextlib.closing(listening_socket("127.0.0.1", port)):
        ended = onecrew("watch", "--port", str(port), "--for", "0.1")
    assert ended.status == 1 and "is in use by another program" in ended.err
