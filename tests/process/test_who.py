"""The walk from lamp to lamp at the command line, against a real engine."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import pytest

from onecrew.commands.light import PULSED_S
from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.single_lamp import kill_and_wait, steady
from tests.process.test_probe import sandbox as sandbox  # the engine that runs


def walked(sandbox: Sandbox, *typed: str) -> tuple[int, dict[str, object], str]:
    process = sandbox.start("who", str(sandbox.show), "--json", typed=True)
    said, wrong = process.communicate("".join(f"{line}\n" for line in typed), 60.0)
    return process.returncode, json.loads(said) if said.strip() else {}, wrong


def rig(sandbox: Sandbox) -> dict[str, tuple[int, int]]:
    show = json.loads(Path(sandbox.show).read_text(encoding="utf-8"))
    return {one["id"]: (one["universe"], one["address"]) for one in show["rig"]["fixtures"]}


def alike(sandbox: Sandbox) -> tuple[str, str]:
    """The first lamp of the rig, and a new one of its kind behind all others."""
    show = json.loads(Path(sandbox.show).read_text(encoding="utf-8"))
    first = show["rig"]["fixtures"][0]
    kind = f"{first['profile']}/{first['mode']}"
    assert sandbox.run("send", "patch", "twin", kind, "next", "role=fill").returncode == 0
    return first["id"], "twin"


def test_a_rig_that_answers_as_patched(sandbox: Sandbox) -> None:
    names = list(rig(sandbox))
    status, told, _ = walked(sandbox, "perhaps", *(["yes"] * len(names)))
    assert (status, told) == (0, {"lamps": len(names), "swapped": [], "to_do": []})


def test_two_lamps_that_are_mixed_up_are_swapped_in_the_patch(sandbox: Sandbox) -> None:
    one, other = alike(sandbox)
    before = rig(sandbox)
    names = list(before)
    at = names.index(one)
    typed = [*(["y"] * at), other, "yes", *(["y"] * (len(names) - at))]
    status, told, _ = walked(sandbox, *typed)
    assert status == 0 and told["swapped"] == [[one, other]]
    after = rig(sandbox)
    assert (after[one], after[other]) == (before[other], before[one])
    assert sandbox.run("send", "undo").returncode == 0
    assert rig(sandbox) == before


def test_what_is_left_is_said_and_nothing_is_changed(sandbox: Sandbox) -> None:
    one, other = alike(sandbox)
    names, before = list(rig(sandbox)), rig(sandbox)
    typed = ["no" if name != one else other for name in names]
    typed.insert(names.index(one) + 1, "no")  # do not swap
    status, told, wrong = walked(sandbox, *typed)
    assert status == 1 and len(told["to_do"]) == len(names)  # type: ignore[arg-type]
    assert f"{other} is set to the address of {one}" in "\n".join(told["to_do"])  # type: ignore[arg-type]
    assert rig(sandbox) == before and "Traceback" not in wrong


def test_stop_and_the_end_of_the_input_end_it(sandbox: Sandbox) -> None:
    for typed in (("stop",), ()):
        status, told, wrong = walked(sandbox, *typed)
        assert (status, told) == (1, {}) and "stopped" in wrong


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_killed_it_leaves_no_lamp_pulsing(sandbox: Sandbox, sign: signal.Signals) -> None:
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = sandbox.start("who", str(sandbox.show), typed=True)
    sandbox.receiver.wait(lambda packet: tuple(packet.slots) != before, mark)
    kill_and_wait(process, sign, sandbox, before)
    assert sandbox.wait_status(lambda status: not status["identify"])["identify"] == []


def test_a_lamp_pulses_on_while_nobody_answers(sandbox: Sandbox) -> None:
    mark = len(sandbox.receiver.packets)
    process = sandbox.start("who", str(sandbox.show), typed=True)
    sandbox.receiver.wait(lambda packet: any(packet.slots[:2]), mark)
    began = sandbox.receiver.packets[-1][0]
    sandbox.receiver.wait(lambda _: sandbox.receiver.packets[-1][0] > began + 2 * PULSED_S, mark)
    assert sandbox.wait_status()["identify"] == [next(iter(rig(sandbox)))]
    process.communicate("stop\n", WAIT_S)
    sandbox.wait_status(lambda status: not status["identify"])


def test_where_it_was_locked_meanwhile_no_answer_counts_and_the_lamp_is_asked_for_again(
    sandbox: Sandbox,
) -> None:
    process = sandbox.start("who", str(sandbox.show), typed=True)
    first = sandbox.wait_status(lambda status: bool(status["identify"]))["identify"]
    sandbox.send("lock", "on")
    sandbox.wait_status(lambda status: not status["identify"])
    sandbox.send("lock", "off")
    assert process.stdin is not None
    process.stdin.write("yes\n")
    process.stdin.flush()
    assert sandbox.wait_status(lambda status: bool(status["identify"]))["identify"] == first
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert f"{first[0]} is asked for again" in wrong and "the light is locked" in wrong
