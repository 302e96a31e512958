"""Two engines and one receiver: the standby follows, and receivers change over by the standard's own rule.

The receiver is ``tests/wire/arbiter``, written from E1.31-2018 alone. Nothing here is a measure of speed.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from onecrew.show.scenes import Document, show_of
from tests.process.sandbox import SHOW, Sandbox, kill
from tests.process.test_crashes import level
from tests.process.test_faults_disk import INJECTED
from tests.wire.arbiter import LOSS_S, Shown, shown
from tests.wire.e131_layout import Packet

CHAIN: dict[str, Any] = {
    **SHOW,
    "cues": [
        SHOW["cues"][0],
        {
            "number": "2",
            "name": "Rise",
            "fade": {"in_s": 5.0, "out_s": 5.0},
            "auto_follow_s": 6.0,
            "look": {"window": {"level": 1.0, "white": {"cct_k": 3200}}, "pendant": {"level": 0.8}},
        },
        {
            "number": "3",
            "name": "After",
            "fade": {"in_s": 0.5, "out_s": 0.5},
            "look": {"window": {"level": 0.75, "white": {"cct_k": 3200}}},
        },
    ],
}


@dataclass
class Pair:
    """A main engine and its standby, each with a home of its own, both heard by the main one's receiver."""

    main: Sandbox
    other: Sandbox
    address: str

    def start_main(self) -> None:
        self.main.engine("--feed", self.address, "--secret", str(self.main.folder / "secret"))

    def start_other(self) -> None:
        self.other.engine("--standby", self.address, "--secret", str(self.main.folder / "secret"))

    def start(self) -> Pair:
        self.start_main()
        self.start_other()
        self.other.wait_status(lambda status: status["standby"]["part"] == "following")
        return self

    def packets(self, priority: int | None = None) -> list[tuple[float, Packet]]:
        heard = list(self.main.receiver.packets)
        return heard if priority is None else [(at, p) for at, p in heard if p.priority == priority]

    def shown(self) -> list[Shown]:
        return shown(self.packets())

    def kill_main(self) -> None:
        """Supervisor and all: the machine is gone."""
        status = self.main.wait_status()
        kill(status["supervisor_pid"])
        kill(status["engine_pid"])
        self.main.receiver.catch_up()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[Pair]:
    folders = tmp_path / "main", tmp_path / "other"
    for folder in folders:
        folder.mkdir()
    main = Sandbox(folders[0], CHAIN)
    other = Sandbox(folders[1], receiver=main.receiver)
    other.show.unlink()  # the standby makes its copy
    yield Pair(main, other, f"127.0.0.1:{free_port()}")
    other.close_processes()
    main.close()


def test_the_standby_sends_the_same_looks_at_a_lower_priority_from_a_source_of_its_own(pair: Pair) -> None:
    pair.start()
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    for priority in (100, 90):
        pair.main.receiver.wait(lambda p, priority=priority: p.priority == priority and level(p) == 32768)  # type: ignore[misc]
    pair.main.wait_status()
    main, other = (pair.packets(priority)[-1][1] for priority in (100, 90))
    assert main.slots == other.slots
    assert main.cid != other.cid
    assert {s.packet.priority for s in pair.shown() if s.packet} == {100}
    document, copy = (
        show_of(Document.model_validate_json(sandbox.show.read_text())) for sandbox in (pair.main, pair.other)
    )
    assert copy == document


@pytest.mark.parametrize("ahead_s", [98_765.4321, -1234.5])
def test_fades_run_in_step_on_machines_that_were_started_at_other_times(pair: Pair, ahead_s: float) -> None:
    """At any moment of a fade the two are no further apart than they would be in a frame and a half of it."""
    pair.other.env |= {"PYTHONPATH": str(INJECTED), "ONECREW_TEST_AHEAD": str(ahead_s)}
    pair.start()
    pair.main.tell(kind="recall", cue="2", fade_s=1.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 65535)
    pair.main.wait_status()
    rising = [(at, level(p)) for at, p in pair.packets(100) if 0 < level(p) < 65535]
    apart = []
    for at, mine in [(at, level(p)) for at, p in pair.packets(90) if 6000 < level(p) < 59000]:
        before = [theirs for then, theirs in rising if then <= at]
        after = [theirs for then, theirs in rising if then >= at]
        if before and after:
            apart.append(max(0, before[-1] - mine, mine - after[0]) / 65535)
    assert len(apart) > 20
    # One frame of a fade of 1 s is 1/43 of the range; a busy machine may delay a packet by some more.
    assert sorted(apart)[len(apart) // 2] <= 1.5 / 43


def test_receivers_take_over_when_the_main_engine_dies_and_come_back_when_it_returns(pair: Pair) -> None:
    pair.start()
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
    pair.main.tell(kind="recall", cue="2")  # five seconds, and cue 3 follows by itself
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) > 36000)
    pair.main.wait_status()
    pair.kill_main()
    last_of_main = pair.packets(100)[-1]
    # The fade goes on to its end, and the chain to the next cue, without the main engine.
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 65535)
    status = pair.other.wait_status(lambda now: now["cue"] == "3" and now["fade"] is None)
    assert status["standby"]["part"] == "alone"
    seen = pair.shown()
    change = next(s for s in seen if s.packet and s.packet.priority == 90 and s.at > last_of_main[0])
    assert change.at == pytest.approx(last_of_main[0] + LOSS_S)  # by the standard's rule, in its own time
    levels = [level(s.packet) for s in seen if s.packet and s.at <= change.at + 0.2]
    rise = levels[next(at for at, shown in enumerate(levels) if shown >= 32768) :]
    assert rise == sorted(rise)  # no dark frame, no step back
    assert all(s.packet is not None for s in seen)
    # The main engine returns from its own live state; receivers show it again with its first packet.
    pair.start_main()
    back = pair.main.receiver.wait(lambda p: p.priority == 100, mark=len(pair.packets()) - 5)
    assert level(back) > 0
    pair.other.wait_status(lambda now: now["standby"]["part"] == "following")
    pair.main.wait_status(lambda now: now["cue"] == "3" and now["fade"] is None)
    pair.main.wait_status()
    assert pair.shown()[-1].packet is not None
    assert pair.shown()[-1].packet.priority == 100  # type: ignore[union-attr]


def test_what_waits_as_the_main_machine_goes_comes_at_its_time_and_once(pair: Pair) -> None:
    """A delay, the fade after it and an auto-follow."""
    pair.start()
    pair.main.send("cue", "2", "delay=1.5s", "fade=0.4s", "auto-follow=2.5s")
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
    mark, begun = len(pair.packets()), time.monotonic()
    pair.main.tell(kind="recall", cue="2")
    pair.other.wait_status(lambda now: now["cue"] == "2")
    pair.kill_main()
    pair.other.wait_status(lambda now: now["cue"] == "3" and now["fade"] is None)
    seen = [(at, level(p)) for at, p in pair.packets()[mark:] if p.priority == 90]
    assert min(at for at, shown in seen if shown != 32768) >= begun + 1.5
    levels = [shown for _, shown in seen]
    top = levels.index(65535)
    assert levels[:top] == sorted(levels[:top])
    assert levels[top:] == sorted(levels[top:], reverse=True) and levels[-1] == round(0.75 * 65535)
    assert pair.other.run("log", str(pair.other.show)).stdout.count("auto-follow: cue 3") == 1


def test_an_engine_that_its_supervisor_restarts_is_followed_again_and_nobody_notices(pair: Pair) -> None:
    pair.start()
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
    status = pair.main.wait_status()
    mark = len(pair.packets())
    kill(status["engine_pid"])
    pair.main.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
    pair.other.wait_status(lambda now: now["standby"]["part"] == "following")
    pair.main.tell(kind="set", fixtures=["window"], level=0.6)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == round(0.6 * 65535), mark)
    assert {level(p) for _, p in pair.packets()[mark:]} == {32768, round(0.6 * 65535)}


def test_a_stopped_main_engine_is_silent_and_then_heard_again(pair: Pair) -> None:
    pair.start()
    pid = pair.main.wait_status()["engine_pid"]
    os.kill(pid, signal.SIGSTOP)
    try:
        status = pair.other.wait_status(lambda now: now["standby"]["part"] == "alone")
        assert "silent" in status["standby"]["error"]
    finally:
        os.kill(pid, signal.SIGCONT)
    pair.other.wait_status(lambda now: now["standby"]["part"] == "following")


def test_put_in_charge_it_takes_commands_and_outweighs_the_main_engine(pair: Pair) -> None:
    pair.start()
    refused = pair.other.run("send", "--show", str(pair.other.show), "recall", "1")
    assert refused.returncode == 1
    assert "stands by" in refused.stderr
    assert "takeover" in refused.stderr
    pair.other.send("takeover")
    pair.other.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 110 and level(p) == 32768)
    pair.main.wait_status(lambda now: now["standby"]["taken_over"])
    pair.main.tell(kind="recall", cue="3", fade_s=0.0)  # the main engine plays on, unheard
    pair.main.receiver.wait(lambda p: p.priority == 100 and level(p) == round(0.75 * 65535))
    pair.main.wait_status()
    last = pair.shown()[-1].packet
    assert last is not None
    assert (last.priority, level(last)) == (110, 32768)
    # It stays in control through a death of its own …
    status = pair.other.wait_status(lambda now: now["standby"]["part"] == "in control")
    mark = len(pair.packets())
    kill(status["engine_pid"])
    again = pair.other.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
    assert again["standby"]["part"] == "in control"
    assert {p.priority for _, p in pair.packets()[mark:]} == {100, 110}
    # … until it is asked to follow again.
    pair.other.send("takeover", "off")
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == round(0.75 * 65535))
    pair.main.wait_status(lambda now: not now["standby"]["taken_over"])
    last = pair.shown()[-1].packet
    assert last is not None
    assert (last.priority, level(last)) == (100, round(0.75 * 65535))


def test_a_change_of_the_show_reaches_the_standby(pair: Pair) -> None:
    pair.start()
    pair.main.tell(kind="set", fixtures=["window"], level=0.3)
    pair.main.tell(kind="store", cue="7", name="Ember")
    pair.other.wait_status(lambda now: now["cue"] == "7" and now["cue_name"] == "Ember")
    lamp = {"id": "edge", "profile": "practical-dimmer", "mode": "8-bit", "universe": 1, "address": 100}
    pair.main.tell(kind="put-fixture", fixture={**lamp, "role": "edge"})
    pair.main.tell(kind="set", fixtures=["edge"], level=1.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and p.slots[99] == 255)


def test_one_stop_ends_both(pair: Pair) -> None:
    pair.start()
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
    done = pair.main.run("stop", "--show", str(pair.main.show))
    assert done.returncode == 0, done.stderr
    pair.main.receiver.wait(lambda p: p.priority == 90 and p.terminated)
    for sandbox in (pair.main, pair.other):
        assert [process.wait(20) for process in sandbox.processes()] == [0]
    assert all(level(p) == 0 for _, p in pair.packets() if p.terminated)


def test_a_main_engine_that_is_ended_by_its_system_hands_the_light_over_at_once(pair: Pair) -> None:
    """As when its machine is shut down: Stream_Terminated makes receivers change over without waiting."""
    pair.start()
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
    engine = pair.main.processes()[0]
    mark = len(pair.shown())
    engine.terminate()
    assert engine.wait(20) == 0
    pair.other.wait_status(lambda now: now["standby"]["part"] == "alone")
    seen = pair.shown()[mark:]
    assert {level(s.packet) for s in seen if s.packet} == {32768}  # no dip
    assert all(s.packet is not None for s in seen)
    assert seen[-1].packet is not None
    assert seen[-1].packet.priority == 90
    pair.start_main()  # it goes on from what it played
    pair.main.receiver.wait(lambda p: p.priority == 100 and level(p) == 32768, len(pair.packets()) - 3)


def test_who_has_another_secret_is_told_so_and_shown_nothing(pair: Pair) -> None:
    pair.start_main()
    other_secret = pair.other.folder / "secret"
    other_secret.write_text("quite another secret, long enough\n")
    other_secret.chmod(0o600)
    words = ("engine", str(pair.other.show), "--standby", pair.address, "--secret", str(other_secret))
    process = pair.other.start(*words)
    status = pair.other.wait_status(lambda now: "another secret" in now["standby"]["error"])
    assert status["lights"] == {}
    assert process.poll() is None
    assert pair.packets(90) == []


def test_strangers_at_the_feed_learn_nothing_and_change_nothing(pair: Pair) -> None:
    pair.start()
    host, _, port = pair.address.rpartition(":")
    for line in (b"\xff" * 5000, b'{"standby": 1}\n', b'{"tick": 1}\n', b"[" * 900 + b"\n"):
        with socket.create_connection((host, int(port)), timeout=20) as stranger:
            greeting = json.loads(stranger.makefile("rb").readline())
            assert set(greeting) == {"feed", "nonce"}
            stranger.sendall(line)
            assert stranger.recv(4096) == b""
    pair.main.tell(kind="recall", cue="1", fade_s=0.0)
    pair.main.receiver.wait(lambda p: p.priority == 90 and level(p) == 32768)
