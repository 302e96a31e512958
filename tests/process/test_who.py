"""The walk from lamp to lamp at the command line, against a real engine."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import pytest

from onecrew.commands.light import PULSED_S
from tests.process.alone import kill_and_wait, steady
from tests.process.house import WAIT_S, House
from tests.process.test_probe import house as house  # the engine that runs


def walked(house: House, *typed: str) -> tuple[int, dict[str, object], str]:
    process = house.start("who", str(house.show), "--json", typed=True)
    said, wrong = process.communicate("".join(f"{line}\n" for line in typed), 60.0)
    return process.returncode, json.loads(said) if said.strip() else {}, wrong


def rig(house: House) -> dict[str, tuple[int, int]]:
    show = json.loads(Path(house.show).read_text(encoding="utf-8"))
    return {one["id"]: (one["universe"], one["address"]) for one in show["rig"]["fixtures"]}


def alike(house: House) -> tuple[str, str]:
    """The first lamp of the rig, and a new one of its kind behind all others."""
    show = json.loads(Path(house.show).read_text(encoding="utf-8"))
    first = show["rig"]["fixtures"][0]
    kind = f"{first['profile']}/{first['mode']}"
    assert house.run("send", "patch", "twin", kind, "next", "role=fill").returncode == 0
    return first["id"], "twin"


def test_a_rig_that_answers_as_patched(house: House) -> None:
    names = list(rig(house))
    status, told, _ = walked(house, "perhaps", *(["yes"] * len(names)))
    assert (status, told) == (0, {"lamps": len(names), "swapped": [], "to_do": []})


def test_two_lamps_that_are_mixed_up_are_swapped_in_the_patch(house: House) -> None:
    one, other = alike(house)
    before = rig(house)
    names = list(before)
    at = names.index(one)
    typed = [*(["y"] * at), other, "yes", *(["y"] * (len(names) - at))]
    status, told, _ = walked(house, *typed)
    assert status == 0 and told["swapped"] == [[one, other]]
    after = rig(house)
    assert (after[one], after[other]) == (before[other], before[one])
    assert house.run("send", "undo").returncode == 0
    assert rig(house) == before


def test_what_is_left_is_said_and_nothing_is_changed(house: House) -> None:
    one, other = alike(house)
    names, before = list(rig(house)), rig(house)
    typed = ["no" if name != one else other for name in names]
    typed.insert(names.index(one) + 1, "no")  # do not swap
    status, told, wrong = walked(house, *typed)
    assert status == 1 and len(told["to_do"]) == len(names)  # type: ignore[arg-type]
    assert f"{other} is set to the address of {one}" in "\n".join(told["to_do"])  # type: ignore[arg-type]
    assert rig(house) == before and "Traceback" not in wrong


def test_stop_and_the_end_of_the_input_end_it(house: House) -> None:
    for typed in (("stop",), ()):
        status, told, wrong = walked(house, *typed)
        assert (status, told) == (1, {}) and "stopped" in wrong


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_killed_it_leaves_no_lamp_pulsing(house: House, sign: signal.Signals) -> None:
    before = steady(house)
    mark = len(house.ear.packets)
    process = house.start("who", str(house.show), typed=True)
    house.ear.wait(lambda packet: tuple(packet.slots) != before, mark)
    kill_and_wait(process, sign, house, before)
    assert house.wait_status(lambda status: not status["identify"])["identify"] == []


def test_a_lamp_pulses_on_while_nobody_answers(house: House) -> None:
    mark = len(house.ear.packets)
    process = house.start("who", str(house.show), typed=True)
    house.ear.wait(lambda packet: any(packet.slots[:2]), mark)
    began = house.ear.packets[-1][0]
    house.ear.wait(lambda _: house.ear.packets[-1][0] > began + 2 * PULSED_S, mark)
    assert house.wait_status()["identify"] == [next(iter(rig(house)))]
    process.communicate("stop\n", WAIT_S)
    house.wait_status(lambda status: not status["identify"])


def test_where_it_was_locked_meanwhile_no_answer_counts_and_the_lamp_is_asked_for_again(house: House) -> None:
    process = house.start("who", str(house.show), typed=True)
    first = house.wait_status(lambda status: bool(status["identify"]))["identify"]
    house.send("lock", "on")
    house.wait_status(lambda status: not status["identify"])
    house.send("lock", "off")
    assert process.stdin is not None
    process.stdin.write("yes\n")
    process.stdin.flush()
    assert house.wait_status(lambda status: bool(status["identify"]))["identify"] == first
    _, wrong = process.communicate("stop\n", WAIT_S)
    assert f"{first[0]} is asked for again" in wrong and "the light is locked" in wrong
