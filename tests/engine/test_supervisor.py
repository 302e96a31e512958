"""The supervisor: starts again what died, gives up what cannot live, and never loses the wish to end."""

from __future__ import annotations

import io
import os
import signal
import subprocess
from collections.abc import Callable, Iterator, Sequence

import pytest
from typing_extensions import Buffer

from onecrew.engine import successors, supervisor
from onecrew.engine.successors import SPARE
from onecrew.engine.supervisor import EXIT_CANNOT_START, QUICK_DEATHS, Answer, supervise


class Child:
    """A process that ends as told."""

    def __init__(
        self, status: int, meanwhile: Callable[[], None] = lambda: None, lives: bool = False
    ) -> None:
        self.status, self.meanwhile, self.lives = status, meanwhile, lives
        self.signals: list[int] = []
        self.pid = 4711
        self.stdin: io.BytesIO | None = None

    def wait(self, timeout: float | None = None) -> int:
        """``lives``: longer than any time it is waited for."""
        if self.lives and timeout is not None:
            raise subprocess.TimeoutExpired("engine", timeout)
        self.meanwhile()
        return -self.signals[0] if self.signals else self.status

    def poll(self) -> None:
        return None

    def send_signal(self, number: int) -> None:
        self.signals.append(number)

    def kill(self) -> None:
        self.signals.append(signal.SIGKILL)


class Spare(Child):
    """A second engine that has done its imports; ``broken``: it died while it waited."""

    def __init__(self, status: int, broken: bool = False) -> None:
        super().__init__(status)
        self.told: list[bytes] = []
        self.broken = broken
        self.stdin = Line(self)

    def poll(self) -> int | None:  # type: ignore[override]
        return -9 if self.broken else None


class Line(io.BytesIO):
    def __init__(self, spare: Spare) -> None:
        super().__init__()
        self.spare = spare

    def write(self, line: Buffer) -> int:
        self.spare.told.append(bytes(line))
        return len(bytes(line))


class Heard:
    """What was heard of the engines by now."""

    ready = False
    number = 1

    def __enter__(self) -> Heard:
        return self

    def __exit__(self, *_: object) -> None:
        pass


class World:
    """Processes to hand out, handlers that were set, sleeps that were taken."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.children: list[Child] = []
        self.started: list[list[str]] = []
        self.handlers: dict[int, Callable[[int, object], None]] = {}
        self.heard = Heard()
        self.says_ready = True
        self.now = 0.0
        self.refused = False
        self.during_sleep: Callable[[], None] = lambda: None
        self.before_start: Callable[[], None] = lambda: None
        monkeypatch.setattr(supervisor, "Answer", lambda: self.heard)
        monkeypatch.setattr(successors, "adopts_orphans", lambda: False)
        monkeypatch.setattr("onecrew.engine.supervisor.signal.signal", self.handlers.__setitem__)
        monkeypatch.setattr("onecrew.engine.successors.subprocess.Popen", self.popen)
        monkeypatch.setattr("onecrew.engine.supervisor.time.monotonic", lambda: self.now)
        monkeypatch.setattr("onecrew.engine.supervisor.time.sleep", self.sleep)

    def popen(self, command: list[str], **_options: object) -> Child:
        self.before_start()
        self.started.append(command)
        self.heard.ready = self.says_ready
        return self.children[min(len(self.started), len(self.children)) - 1]

    def sleep(self, seconds: float) -> None:
        self.now += seconds
        self.during_sleep()

    def interrupt(self) -> None:
        self.handlers[signal.SIGINT](signal.SIGINT, None)

    def end(self) -> None:
        self.handlers[signal.SIGTERM](signal.SIGTERM, None)


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    yield World(monkeypatch)


def test_an_engine_that_dies_is_started_again_as_a_resumed_one(world: World) -> None:
    world.children = [Child(-9), Child(0)]
    assert supervise("show.json") == 0
    assert ["--resumed" in command for command in world.started] == [False, True]


def test_an_engine_that_says_why_it_cannot_run_is_not_started_again(world: World) -> None:
    world.children = [Child(EXIT_CANNOT_START)]
    assert supervise("show.json") == EXIT_CANNOT_START
    assert len(world.started) == 1


def test_an_engine_that_only_dies_is_given_up(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    world.children = [Child(-11)]
    assert supervise("show.json") == 1
    assert len(world.started) == QUICK_DEATHS + 1
    assert "given up" in capsys.readouterr().err


def test_engines_that_die_again_and_again_are_made_anew_from_the_third_death_on(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    acts: list[str] = []

    class Broken:
        def start(self, _last_words: Sequence[str]) -> Child:
            acts.append("start")
            return Child(-11)

        def wait(self) -> int:
            return -11

        def close(self) -> None:
            acts.append("close")

    monkeypatch.setattr(supervisor, "successors", lambda *_: Broken())
    assert supervise("show.json") == 1
    assert acts == ["start", "start", *["start", "close"] * (QUICK_DEATHS - 1)]


def test_an_engine_that_always_dies_before_it_is_ready_is_given_up_however_slowly(
    world: World,
) -> None:
    def load_for_long() -> None:
        world.now += 20.0

    world.says_ready = False
    world.children = [Child(1, load_for_long)]
    assert supervise("show.json") == 1
    assert len(world.started) == QUICK_DEATHS + 1


def test_an_engine_that_lived_a_while_is_always_started_again(world: World) -> None:
    def live() -> None:
        world.now += 3600.0

    world.children = [Child(-9, live) for _ in range(3 * QUICK_DEATHS)] + [Child(0)]
    assert supervise("show.json") == 0
    assert len(world.started) == 3 * QUICK_DEATHS + 1


def test_the_wish_to_end_is_passed_on(world: World) -> None:
    world.children = [Child(0, world.end)]
    supervise("show.json")
    assert world.children[0].signals == [signal.SIGTERM]


def test_ctrl_c_is_passed_on_as_it_is_and_what_ends_by_it_is_not_started_again(world: World) -> None:
    world.children = [Child(1, world.interrupt)]
    supervise("show.json")
    assert world.children[0].signals == [signal.SIGINT]
    assert len(world.started) == 1


def test_an_engine_that_asked_back_at_ctrl_c_and_dies_much_later_is_started_again(world: World) -> None:
    def ask_back_and_live() -> None:
        world.interrupt()
        world.now += 3600.0

    world.children = [Child(-9, ask_back_and_live), Child(0)]
    assert supervise("show.json") == 0
    assert len(world.started) == 2


def test_the_wish_to_end_between_two_engines_starts_no_third(world: World) -> None:
    world.children = [Child(-9)]
    world.during_sleep = world.end
    supervise("show.json")
    assert len(world.started) == 3  # the first sleep comes after the third quick death


def test_the_wish_to_end_just_before_a_start_reaches_the_engine(world: World) -> None:
    world.children = [Child(0)]
    world.before_start = world.end
    supervise("show.json")
    assert world.children[0].signals == [signal.SIGTERM]


def test_an_engine_that_lives_has_another_one_ready_which_takes_its_place(world: World) -> None:
    spare = Spare(0)
    world.children = [Child(-9, lives=True), spare]
    assert supervise("show.json", ["--feed", "5"]) == 0
    assert [command[command.index("onecrew.engine") + 1 :] for command in world.started] == [
        ["show.json", "--feed", "5"],
        [SPARE, "show.json", "--feed", "5"],
    ]
    assert spare.told == [b"--resumed\n"]


def test_who_takes_the_place_of_one_that_was_not_ready_is_to_say_ready(world: World) -> None:
    spare = Spare(-9)
    world.says_ready = False
    world.children = [Child(-9, lives=True), spare, Child(0)]
    assert supervise("show.json") == 0
    assert spare.told == [b"\n"]
    assert not any("--resumed" in command for command in world.started)


def test_where_the_one_that_was_ready_died_too_a_new_one_is_started(world: World) -> None:
    spare = Spare(0, broken=True)
    world.children = [Child(-9, lives=True), spare, Child(0)]
    assert supervise("show.json") == 0
    assert SPARE not in world.started[2] and "--resumed" in world.started[2]
    assert spare.told == [] and spare.stdin is not None and spare.stdin.closed


def test_with_no_room_for_another_one_the_engine_runs_and_is_started_again_all_the_same(world: World) -> None:
    def no_room() -> None:
        if len(world.started) == 1 and not world.refused:
            world.refused = True
            raise OSError(12, "no memory")

    world.before_start = no_room
    world.children = [Child(-9, lives=True), Child(0)]
    assert supervise("show.json") == 0
    assert world.refused and "--resumed" in world.started[1]


def test_one_that_nobody_will_need_is_ended(world: World) -> None:
    spare = Spare(0)
    world.children = [Child(0, lives=True), spare]
    assert supervise("show.json") == 0
    assert spare.signals == [signal.SIGKILL] and spare.told == []
    assert spare.stdin is not None and spare.stdin.closed


def test_ready_is_passed_on_once_and_everything_else_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    with Answer() as answer:
        assert not answer.ready
        os.write(answer.number, b"ready\nsomething\nready\n")
    assert capsys.readouterr().out == "ready\nsomething\n"
    assert answer.ready
