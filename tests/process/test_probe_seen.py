"""Whole probes against a real engine: a simulated lamp hears the packets, and what it does is typed."""

from __future__ import annotations

from itertools import pairwise
from typing import IO

import numpy as np
import pytest

from onecrew.commands.light import HELD_S, RAMP_S, RISEN_S
from onecrew.fixtures.probe import Question, asked_so_far
from onecrew.fixtures.probe_answers import STEP_VALUES, STEPS, Answer
from tests.fakes.onlooker import UNSEEN, Onlooker
from tests.fixtures.test_probe import Lamp
from tests.playback.flashes import flashes_in_any_second
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_faults_terminal import window
from tests.process.test_probe import FIRST
from tests.process.test_probe import sandbox as sandbox  # the engine that runs
from tests.wire.e131_layout import Packet

RATE_HZ = 200


class Typist:
    """Types what a simulated lamp does with the slots that it hears; ``doubts`` are taken back again."""

    def __init__(self, sandbox: Sandbox, onlooker: Onlooker, doubts: dict[int, str]) -> None:
        self.sandbox, self.onlooker, self.doubts = sandbox, onlooker, dict(doubts)
        self.process = sandbox.start(
            "probe", str(sandbox.show), "1.101", "--slots", str(onlooker.width), typed=True
        )
        self.answers: list[Answer] = []
        self.mark = 0

    def course(self) -> list[tuple[int, ...]]:
        """The lamp's slots since the last answer was typed."""
        self.sandbox.receiver.catch_up()
        width = self.onlooker.width
        sent = (
            packet.slots.ljust(512, b"\0")[FIRST : FIRST + width]
            for packet in self.sandbox.receiver.since(self.mark)
        )
        return [tuple(slots) for slots in sent]

    def go(self) -> str:
        """All answers; what is said at the end."""
        said = ""
        while True:
            prompt = until(self.process.stderr, "\n> ")
            now = asked_so_far(self.onlooker.width, self.answers)
            if not isinstance(now, Question):
                found = [f"  {slot}  {kind}" for slot, kind in enumerate(now.kinds, 1)]
                assert "\n".join(found) in prompt
                break
            if (doubt := self.doubts.pop(len(self.answers), None)) is not None:
                self.type(doubt)
                until(self.process.stderr, "\n> ")
                self.type("back")
                continue
            answer = self.seen(self.course(), now)
            self.answers.append(answer)
            self.type(answer)
        self.type("")
        assert self.process.stdout is not None
        said = self.process.stdout.read()
        assert self.process.wait(WAIT_S) == 0
        return said

    def seen(self, course: list[tuple[int, ...]], now: Question) -> Answer:
        """What the lamp did since the slots were as they are before the question."""
        start = max(at for at, slots in enumerate(course) if slots == now.before)
        if not now.steps:
            return self.onlooker.seen(course[start:], now.answers)
        [climbing, *_] = [at for at, (a, b) in enumerate(zip(now.before, now.then, strict=True)) if a != b]
        lit = [slots for slots in course[start:] if self.onlooker.look(slots).light > UNSEEN]
        if not lit:
            return Answer.NOTHING
        return next(step for step, v in zip(STEPS, STEP_VALUES, strict=True) if v >= lit[0][climbing])

    def type(self, line: str) -> None:
        self.sandbox.receiver.catch_up()
        self.mark = len(self.sandbox.receiver.packets) - 1
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()


def until(stream: IO[str] | None, words: str) -> str:
    """Everything that is said up to these words."""
    assert stream is not None
    heard = ""
    while not heard.endswith(words):
        letter = stream.read(1)
        assert letter, heard
        heard += letter
    return heard


def calm(sandbox: Sandbox, onlooker: Onlooker) -> None:
    """No slot moves faster than its ramp but to black; under three flashes in any second (WCAG 2.3.1)."""
    sandbox.receiver.catch_up()
    width = onlooker.width
    course = [
        (at, tuple(p.slots.ljust(512, b"\0")[FIRST : FIRST + width])) for at, p in sandbox.receiver.packets
    ]
    for (before, a), (after, b) in pairwise(course):
        most = 255.0 * (after - before) / RAMP_S + 20.0
        assert not any(b) or all(abs(new - old) <= most for old, new in zip(a, b, strict=True))
    moments = np.arange(course[0][0], course[-1][0], 1.0 / RATE_HZ)
    at = np.searchsorted([when for when, _ in course], moments, side="right") - 1
    light = {slots: onlooker.look(slots).light for slots in {slots for _, slots in course}}
    shown = np.array([light[course[index][1]] for index in at])
    most_light = max(shown.max(), 1e-9)
    assert flashes_in_any_second((shown / most_light)[:, None], RATE_HZ).max() < 3


@pytest.mark.parametrize(
    ("lamp", "doubts"),
    [
        (Lamp("D f R G B", modes={2: (64, 127)}), {0: "red", 3: "other"}),
        (Lamp("D y x"), {1: "blue", 3: "flashes"}),
    ],
    ids=str,
)
def test_a_lamp_that_is_only_heard_is_found_and_obeys(
    sandbox: Sandbox, lamp: Lamp, doubts: dict[int, str]
) -> None:
    """Wrong answers, and one that is not sure, are taken back on the way: the last one as well."""
    typist = Typist(sandbox, lamp.seen(), doubts)
    said = typist.go()
    assert not typist.doubts
    assert typist.answers == answers_of(lamp)
    calm(sandbox, lamp.seen())
    name = said.split("patch NAME ")[1].split("/")[0]
    sandbox.run("send", "patch", "found", f"{name}/probed", "1.101", "role=fill")
    sandbox.run("send", "set", "found", "100%", "4000K")
    sandbox.receiver.wait(
        lambda packet: lamp.seen().look(packet.slots[FIRST:]).light > 0.05, len(sandbox.receiver.packets) - 1
    )


def answers_of(lamp: Lamp) -> list[Answer]:
    """What is answered by somebody who needs no engine."""
    onlooker = lamp.seen()
    answers: list[Answer] = []
    while isinstance(now := asked_so_far(onlooker.width, answers), Question):
        answers.append(onlooker.answer(now))
    return answers


def test_enter_in_the_middle_of_a_climb_is_the_step_of_that_moment(sandbox: Sandbox) -> None:
    process = sandbox.start("probe", str(sandbox.show), "1.101", "--slots", "5", typed=True)
    assert process.stdin is not None
    for _ in range(3):
        until(process.stderr, "\n> ")
        process.stdin.write("nothing\n")
        process.stdin.flush()
    until(process.stderr, "step 3\n")
    sandbox.receiver.wait(lambda packet: max(packet.slots[FIRST : FIRST + 3]) == STEP_VALUES[2])
    mark = len(sandbox.receiver.packets)
    process.stdin.write("\n")
    process.stdin.flush()
    sandbox.receiver.wait(lambda packet: not any(packet.slots[FIRST : FIRST + 5]), mark)
    assert "Over slots 1 and 2, slot 3 goes up" in until(process.stderr, "\n> ")
    sandbox.receiver.wait(
        lambda packet: packet.slots[FIRST : FIRST + 3] == bytes((255, STEP_VALUES[2], 255)), mark
    )


def test_what_flashes_is_taken_away_at_once(sandbox: Sandbox) -> None:
    process = sandbox.start("probe", str(sandbox.show), "1.101", "--slots", "3", typed=True)
    until(process.stderr, "\n> ")
    sandbox.receiver.wait(lambda packet: packet.slots[FIRST : FIRST + 1] == b"\xff")
    mark = len(sandbox.receiver.packets)
    assert process.stdin is not None
    process.stdin.write("flashes\n")
    process.stdin.flush()
    after = sandbox.receiver.wait(lambda packet: packet.slots[FIRST] < 255, mark)
    assert after.slots[FIRST] == 0


def test_killed_at_any_moment_the_lamp_is_black(sandbox: Sandbox) -> None:
    """Seconds after its first light: as a slot goes up, stands, is taken back, and in the next one."""
    for moment in (0.0, 0.7, RISEN_S, RISEN_S + 0.6, 2 * RISEN_S + 0.3):
        process = sandbox.start("probe", str(sandbox.show), "1.101", "--slots", "3", typed=True)
        assert process.stdin is not None
        process.stdin.write("red\nback\nblue\n")
        process.stdin.flush()
        mark = len(sandbox.receiver.packets)
        sandbox.receiver.wait(lit, mark)
        sandbox.receiver.pause(moment)
        process.kill()
        goes_black(sandbox)


def lit(packet: Packet) -> bool:
    """Whether a slot of the unknown lamp is up."""
    return any(packet.slots[FIRST : FIRST + 3])


def goes_black(sandbox: Sandbox) -> None:
    """Within the time for which raised slots are held, and for good."""
    sandbox.receiver.catch_up()
    mark = len(sandbox.receiver.packets)
    began = sandbox.receiver.packets[-1][0]
    sandbox.receiver.wait(lambda packet: not lit(packet), mark - 1)
    sandbox.receiver.pause(HELD_S)
    sandbox.receiver.catch_up()
    late = [at for at, packet in sandbox.receiver.packets[mark:] if lit(packet)]
    assert not late or late[-1] - began <= HELD_S + 1.0
    assert not lit(sandbox.receiver.packets[-1][1])


@pytest.mark.parametrize("moment", [0.0, 1.0, 2.0])
def test_the_screens_killed_in_a_probe_leave_the_lamp_black(sandbox: Sandbox, moment: float) -> None:
    screen = window(sandbox, "open", str(sandbox.show))
    try:
        screen.expect("F1")
        where = "\t101\t3\r"
        for keys, then in (("\x1bOS", "Rig"), ("Q", "Probe an unknown lamp"), (where, "goes up")):
            screen.send(keys)
            screen.expect(then)
        sandbox.receiver.wait(lit)
        sandbox.receiver.pause(moment)
        kill(screen.pid)
        goes_black(sandbox)
    finally:
        kill(screen.pid)
        screen.closed = True
