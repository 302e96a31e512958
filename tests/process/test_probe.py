"""A probe against a real engine: what leaves, what is found and kept, and black whatever ends it."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from onecrew.commands.light import HELD_S, RAMP_S
from onecrew.fixtures.probe import Answer, Layout, Question, asked_so_far
from onecrew.fixtures.probe_profile import profile_text
from tests.fakes.onlooker import Onlooker
from tests.fixtures.test_probe import SHIPPED, made
from tests.process.sandbox import Sandbox

FIRST = 100
"""Slot of the unknown lamp, from 0: address 101."""


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    folder = tmp_path / "sandbox"
    folder.mkdir()
    sandbox = Sandbox(folder)
    sandbox.engine()
    yield sandbox
    sandbox.close()


def probe(sandbox: Sandbox, *words: str) -> subprocess.Popen[str]:
    return sandbox.start("probe", str(sandbox.show), "1.101", *words, typed=True)


def answers_of(onlooker: Onlooker) -> list[Answer]:
    answers: list[Answer] = []
    while isinstance(now := asked_so_far(onlooker.width, answers), Question):
        answers.append(onlooker.answer(now))
    return answers


def test_a_known_layout_is_named_and_no_slot_ever_jumps_up(sandbox: Sandbox) -> None:
    answers = answers_of(Onlooker(SHIPPED["par-rgb"], "8-bit"))
    process = probe(sandbox, "--slots", "3")
    said, wrong = process.communicate("".join(f"{answer}\n" for answer in answers), 60.0)
    assert process.returncode == 0, wrong
    assert "par-rgb/8-bit" in said
    sandbox.receiver.catch_up()
    course = [
        (at, p.slots[FIRST : FIRST + 3]) for at, p in sandbox.receiver.packets if len(p.slots) > FIRST + 3
    ]
    assert max(max(slots) for _, slots in course) == 255
    assert not any(course[-1][1])
    for (before, a), (after, b) in pairwise(course):
        steepest = 255.0 * (after - before) / RAMP_S
        assert all(new - old <= steepest + 20 for old, new in zip(a, b, strict=True))


def test_an_unknown_layout_becomes_a_profile_that_can_be_patched_at_once(sandbox: Sandbox) -> None:
    answers = answers_of(Onlooker(made("D k T f"), "m", (4,)))
    typed = "".join(f"{answer}\n" for answer in answers)
    process = probe(sandbox, "--slots", "4", "--as", "box")
    _, wrong = process.communicate(typed, 60.0)
    assert process.returncode == 0, wrong
    kept = (sandbox.folder / "config_home" / "onecrew" / "profiles" / "box.toml").read_text()
    assert "slots 4" in kept
    assert sandbox.run("send", "patch", "new", "box/probed", "1.101", "role=fill").returncode == 0
    again = probe(sandbox, "--slots", "4", "--as", "box")
    _, wrong = again.communicate(typed, 60.0)
    assert "overlaps new" in wrong


def test_a_profile_that_was_written_by_hand_meanwhile_can_be_patched(sandbox: Sandbox) -> None:
    folder = sandbox.folder / "config_home" / "onecrew" / "profiles"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text(profile_text(Layout(("dimmer",)), "Mine", "one"))
    assert sandbox.run("send", "patch", "new", "mine/one", "1.101", "role=fill").returncode == 0
    assert sandbox.run("send", "set", "new", "100%").returncode == 0
    assert sandbox.receiver.wait(lambda packet: len(packet.slots) > FIRST and packet.slots[FIRST] == 255)


def test_a_profile_of_that_name_is_never_written_over(sandbox: Sandbox) -> None:
    answers = answers_of(Onlooker(SHIPPED["spot-daylight"], "8-bit"))
    folder = sandbox.folder / "config_home" / "onecrew" / "profiles"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text("# mine\n")
    process = probe(sandbox, "--slots", "1", "--as", "mine")
    _, wrong = process.communicate("".join(f"{answer}\n" for answer in answers), 60.0)
    assert process.returncode == 1
    assert "there is a profile mine already" in wrong
    assert (folder / "mine.toml").read_text() == "# mine\n"


@pytest.mark.parametrize("end", ["kill", "terminate", "stop"])
def test_whatever_ends_it_the_lamp_is_black(sandbox: Sandbox, end: str) -> None:
    process = probe(sandbox, "--slots", "3")
    lit = sandbox.receiver.wait(lambda packet: len(packet.slots) > FIRST and packet.slots[FIRST] == 255)
    assert lit
    mark = len(sandbox.receiver.packets)
    if end == "stop":
        assert process.stdin is not None
        process.stdin.write("stop\n")
        process.stdin.flush()
    else:
        getattr(process, end)()
    sandbox.receiver.wait(lambda packet: len(packet.slots) > FIRST and packet.slots[FIRST] == 0, mark)
    at = [when for when, packet in sandbox.receiver.packets[mark:] if packet.slots[FIRST] == 255]
    if at:
        assert at[-1] - sandbox.receiver.packets[mark - 1][0] <= HELD_S + 1.0
    process.wait(20.0)
    status = sandbox.status()
    assert status is not None and status["cue"] is None
