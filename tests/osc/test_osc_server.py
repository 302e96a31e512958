"""The server for OSC: who is let in, what is carried out and when, what is answered. No socket, no clock."""

from __future__ import annotations

import contextlib
import struct
from collections.abc import Iterator
from typing import Any

import pytest

from onecrew.commands.table import parse_command
from onecrew.errors import Refused
from onecrew.osc.packets import Message, read_packet, write_message
from onecrew.osc.server import ANSWERS_PER_S, EDITS, PATTERNS, PENDING, REFUSED, OscServer
from tests.osc.osc_layout import time_tag
from tests.phone.shows import small_show

HERE = ("127.0.0.1", 50000)
GUEST = ("192.168.1.20", 50000)
STRANGER = ("192.168.1.66", 50000)
OWN = ("0.0.0.0", 9001)
WALL = 1_700_000_000.0


class Stand:
    """A server with an engine that writes down what it is asked to do."""

    def __init__(self, **options: Any) -> None:
        self.done: list[dict[str, Any]] = []
        self.frames: list[int] = []
        """How many commands each frame carried, for those that came together."""
        self.locked = False
        self.state: dict[str, tuple[Any, ...]] = {"/onecrew/state/cue": ("1", "Dawn")}
        options = {"allow": ["192.168.1.20"], "own": OWN, **options}
        self.server = OscServer(
            self._carry_out, self._together, small_show, lambda now: self.state, **options
        )

    def _carry_out(self, raw: dict[str, Any]) -> None:
        parse_command(raw)
        if self.locked:
            raise Refused("the desk is locked")
        self.done.append(raw)

    @contextlib.contextmanager
    def _together(self) -> Iterator[None]:
        before = len(self.done)
        yield
        self.frames.append(len(self.done) - before)

    @property
    def kinds(self) -> list[str]:
        return [command["kind"] for command in self.done]

    def receive(self, data: bytes, sender: tuple[str, int] = HERE, now: float = 0.0) -> list[Message]:
        """What is answered; always to the sender."""
        answers = self.server.receive(data, sender, now, WALL + now)
        assert all(to == sender for _, to in answers)
        return [read_packet(data)[0].messages[0] for data, _ in answers]

    def say(
        self, address: str, *values: Any, sender: tuple[str, int] = HERE, now: float = 0.0
    ) -> list[Message]:
        return self.receive(write_message(address, values), sender, now)


def bundle(at: float | None, *messages: bytes) -> bytes:
    parts = b"".join(struct.pack(">i", len(message)) + message for message in messages)
    return b"#bundle\0" + struct.pack(">Q", 1 if at is None else time_tag(WALL + at)) + parts


GO, BACK, HOLD = (write_message(f"/onecrew/{word}", ()) for word in ("go", "back", "hold"))


# ── Who is let in ───────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("sender", "let_in"),
    [
        (HERE, True),
        (("::1", 50000), True),
        (("::ffff:127.0.0.1", 50000), True),
        (("127.9.9.9", 50000), True),
        (GUEST, True),
        (("::ffff:192.168.1.20", 50000), True),
        (STRANGER, False),
        (("::ffff:192.168.1.66", 50000), False),
        (("fe80::1%eth0", 50000), False),
        (("127.0.0.1", 9001), False),  # its own echo
    ],
)
def test_this_machine_and_the_list(sender: tuple[str, int], let_in: bool) -> None:
    stand = Stand()
    assert stand.server.lets_in(sender) is let_in
    stand.say("/onecrew/go", sender=sender)
    assert stand.kinds == (["go"] if let_in else [])


def test_a_stranger_gets_no_answer_and_no_reports() -> None:
    stand = Stand()
    for word in ("go", "report", "nonsense"):
        assert stand.say(f"/onecrew/{word}", sender=STRANGER) == []
    assert stand.receive(b"rubbish!", STRANGER) == []
    assert stand.server.counts.strangers == 4
    assert stand.server.counts.heard == 0
    assert len(stand.server.reports) == 0
    assert "192.168.1.66" in stand.server.counts.remark


def test_the_list_may_be_written_in_any_way_of_writing() -> None:
    stand = Stand(allow=["FE80:0:0:0:0:0:0:1"])
    assert stand.server.lets_in(("fe80::1%wlan0", 4000))


# ── What is answered ────────────────────────────────────────────────────────────────────────────────


def test_a_refusal_is_answered_with_its_sentence() -> None:
    stand = Stand()
    stand.locked = True
    assert stand.say("/onecrew/go") == [Message(REFUSED, ("/onecrew/go", "the desk is locked"))]
    (answer,) = stand.say("/onecrew/master", 7.0)
    assert answer.arguments == (
        "/onecrew/master",
        "master: level: 7.0 is above 1; give a number from 0 to 1",
    )
    assert stand.server.counts.refused == 2
    assert stand.done == []


def test_what_is_done_is_not_answered() -> None:
    stand = Stand()
    assert stand.say("/onecrew/go") == []
    assert (stand.server.counts.heard, stand.server.counts.done) == (1, 1)


def test_bad_packets_are_counted_and_explained_where_they_were_meant_for_us() -> None:
    stand = Stand()
    (answer,) = stand.receive(b"/onecrew/master\0,f\0\0")
    assert answer.arguments[0] == "/onecrew/master"
    (answer,) = stand.receive(b"#bundle\0")
    assert answer.arguments == ("#bundle", "the bundle has no time tag")
    (answer,) = stand.receive(b"/onecrew/go\0,b\0\0" + bytes(4))
    assert "type b is not read" in str(answer.arguments[1])
    assert stand.receive(b"\xff" * 40) == []
    assert stand.receive(b"/somebody/else\0\0,f\0\0") == []
    assert stand.server.counts.bad == 4
    assert stand.done == []


def test_a_message_for_somebody_else_is_counted_and_not_answered() -> None:
    stand = Stand()
    assert stand.say("/synth/cutoff", 0.5) == []
    assert stand.server.counts.refused == 1
    assert "/synth/cutoff" in stand.server.counts.remark


@pytest.mark.parametrize("address", [REFUSED, "/onecrew/state", "/onecrew/state/cue"])
def test_two_doors_cannot_talk_for_ever(address: str) -> None:
    stand = Stand()
    assert stand.say(address, "/onecrew/go", "the desk is locked") == []
    assert stand.receive(write_message(address, ())[:-4] + b",f\0\0") == []  # nor when it is unsound


def test_answers_to_one_sender_are_few() -> None:
    stand = Stand()
    answers = sum(len(stand.say("/onecrew/nonsense", now=tick / 1000)) for tick in range(2000))
    assert ANSWERS_PER_S <= answers <= 3 * ANSWERS_PER_S + 1
    assert stand.say("/onecrew/nonsense", sender=GUEST, now=2.0)  # another one still gets his
    assert stand.server.counts.refused == 2001


def test_memory_of_senders_is_bounded() -> None:
    stand = Stand()
    for number in range(600):
        stand.say("/onecrew/nonsense", sender=(f"127.0.{number // 250}.{number % 250 + 1}", 4000))
    assert len(stand.server._answered) <= 256


# ── Bundles and their time ──────────────────────────────────────────────────────────────────────────


def test_a_bundle_is_one_frame() -> None:
    stand = Stand()
    stand.receive(bundle(None, GO, HOLD, BACK))
    assert stand.kinds == ["go", "hold", "back"]
    assert stand.frames == [3]


def test_one_message_that_fails_does_not_stop_the_others() -> None:
    stand = Stand()
    (answer,) = stand.receive(bundle(None, GO, write_message("/onecrew/master", (9.0,)), BACK))
    assert stand.kinds == ["go", "back"]
    assert answer.arguments[0] == "/onecrew/master"


def test_a_bundle_with_one_part_that_is_unsound_does_nothing() -> None:
    stand = Stand()
    stand.receive(bundle(None, GO, b"/onecrew/go\0,f\0\0"))
    assert stand.done == []
    assert stand.server.counts.bad == 1


def test_a_bundle_for_later_waits_for_its_moment() -> None:
    stand = Stand()
    stand.receive(bundle(5.0, GO), now=1.0)
    stand.receive(bundle(3.0, BACK), now=1.0)
    assert stand.done == []
    assert stand.server.next_due() == pytest.approx(3.0)
    stand.server.due(2.9)
    assert stand.done == []
    stand.server.due(3.01)
    assert stand.kinds == ["back"]
    stand.server.due(60.0)
    assert stand.kinds == ["back", "go"]
    assert stand.server.next_due() is None


def test_a_bundle_changes_the_show_only_so_often() -> None:
    stand = Stand()
    edit = write_message("/onecrew/rename", ("Another",))
    whole = write_message("/onecrew/command", ('{"kind": "undo"}',))
    (answer, *_) = stand.receive(bundle(None, *[edit] * 3, *[whole] * 3, GO))
    assert stand.kinds == ["rename"] * 3 + ["undo"] * (EDITS - 3) + ["go"]
    assert "at most" in str(answer.arguments[1])
    for _ in range(10):  # one by one, with frames between them
        stand.receive(edit)
    assert stand.kinds.count("rename") == 13


def test_a_bundle_that_comes_late_runs_at_once() -> None:
    # OSC 1.0, "Temporal Semantics and OSC Time Tags": a time tag before the present is carried out at once.
    stand = Stand()
    stand.receive(bundle(-100.0, GO))
    assert stand.kinds == ["go"]


def test_a_refusal_of_a_bundle_for_later_goes_to_who_sent_it() -> None:
    stand = Stand()
    stand.receive(bundle(1.0, GO), sender=GUEST)
    stand.locked = True
    ((data, to),) = stand.server.due(1.5)
    assert to == GUEST
    assert read_packet(data)[0].messages[0].arguments[1] == "the desk is locked"


def test_bundles_for_the_far_future_are_refused() -> None:
    stand = Stand()
    (answer,) = stand.receive(bundle(601.0, GO))
    assert "ahead" in str(answer.arguments[1])
    (answer,) = stand.receive(b"#bundle\0" + b"\xff" * 8 + struct.pack(">i", len(GO)) + GO)
    assert "ahead" in str(answer.arguments[1])
    assert stand.server.next_due() is None


def test_only_so_many_bundles_wait() -> None:
    stand = Stand()
    for number in range(PENDING + 50):
        stand.receive(bundle(10.0 + number / 1000, GO))
    assert len(stand.server._pending) == PENDING
    assert stand.server.counts.refused == 50
    stand.server.due(100.0)
    assert len(stand.done) == PENDING


# ── Patterns ────────────────────────────────────────────────────────────────────────────────────────


def test_a_pattern_moves_its_lamps_with_one_command() -> None:
    stand = Stand()
    stand.say("/onecrew/light/{tone,edge,edge2}/level", 0.25)
    assert stand.done == [{"kind": "set", "fixtures": ("tone", "edge", "edge2"), "level": 0.25}]


def test_only_so_many_patterns_come_in_one_packet() -> None:
    stand = Stand()
    pattern = write_message("/onecrew/light/*/level", (0.5,))
    stand.receive(bundle(None, *[pattern] * PATTERNS))
    assert len(stand.done) == PATTERNS
    stand.receive(bundle(None, *[pattern] * (PATTERNS + 1)))
    assert len(stand.done) == PATTERNS


# ── Reports ─────────────────────────────────────────────────────────────────────────────────────────


def test_reports_go_to_the_port_that_asked() -> None:
    stand = Stand()
    assert stand.say("/onecrew/report", sender=GUEST) == []
    assert stand.server.next_due() == 0.0
    ((data, to),) = stand.server.due(0.0)
    assert to == GUEST
    assert read_packet(data)[0].messages[0] == Message("/onecrew/state/cue", ("1", "Dawn"))
    stand.say("/onecrew/report", 9100, 30.0, 5, sender=GUEST)
    assert [to for _, to in stand.server.due(0.1)] == [("192.168.1.20", 9100)]
    stand.say("/onecrew/report-end", sender=GUEST)
    stand.say("/onecrew/report-end", 9100, sender=GUEST)
    assert stand.server.next_due() is None


@pytest.mark.parametrize(
    "values",
    [("x",), (70000,), (-1,), (9100, 0.0), (9100, float("nan")), (9100, 10, 1e9), (9100, 10, 60, 1), (80,)],
)
def test_a_request_for_reports_that_makes_no_sense_is_refused(values: tuple[Any, ...]) -> None:
    stand = Stand()
    (answer,) = stand.say("/onecrew/report", *values)
    assert answer.address == REFUSED
    assert len(stand.server.reports) == 0


def test_the_server_does_not_report_to_itself() -> None:
    stand = Stand()
    (answer,) = stand.say("/onecrew/report", 9001)
    assert "9001 is where this OSC server listens" in str(answer.arguments[1])


def test_nothing_is_sent_to_another_address_than_that_of_who_asked() -> None:
    """There is no argument for a host: a sender cannot point the stream at a third machine."""
    stand = Stand()
    stand.say("/onecrew/report", 9100, sender=GUEST)
    assert {to[0] for _, to in stand.server.due(0.0)} == {GUEST[0]}


# ── The locks on the server ───────────────────────────────────────────────────────────────────────────


def test_who_may_reach_the_engine_is_changed_on_its_machine_alone() -> None:
    stand = Stand()
    remote = '{"osc": {"listen": "0.0.0.0:9001", "allow": ["192.168.1.66"]}}'
    for address, text in (
        ("/onecrew/set-remote", remote),
        ("/onecrew/command", f'{{"kind": "set-remote", "remote": {remote}}}'),
    ):
        (answer,) = stand.say(address, text, sender=GUEST)
        assert "its own machine alone" in str(answer.arguments[1])
        assert stand.done == []
    stand.say("/onecrew/set-remote", remote)
    assert stand.kinds == ["set-remote"]


def test_a_bug_in_a_command_is_a_sentence_and_the_door_stays_open(caplog: pytest.LogCaptureFixture) -> None:
    stand = Stand()

    def fails(raw: dict[str, Any]) -> None:
        raise RuntimeError("a bug")

    stand.server._carry_out = fails
    (answer,) = stand.say("/onecrew/go")
    assert "its log says more" in str(answer.arguments[1])
    assert "RuntimeError" in caplog.text
