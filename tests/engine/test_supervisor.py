"""The supervisor: starts again what died, gives up what cannot live, and never loses the wish to end."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator

import pytest

from onecrew.engine import supervisor
from onecrew.engine.supervisor import EXIT_CANNOT_START, QUICK_DEATHS, supervise


class Child:
    """A process that ends as told."""

    def __init__(self, status: int, meanwhile: Callable[[], None] = lambda: None) -> None:
        self.status, self.meanwhile = status, meanwhile
        self.signals: list[int] = []
        self.pid = 4711

    def wait(self) -> int:
        self.meanwhile()
        return -self.signals[0] if self.signals else self.status

    def poll(self) -> None:
        return None

    def send_signal(self, number: int) -> None:
        self.signals.append(number)


class World:
    """Processes to hand out, handlers that were set, sleeps that were taken."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.children: list[Child] = []
        self.started: list[list[str]] = []
        self.handlers: dict[int, Callable[[int, object], None]] = {}
        self.now = 0.0
        self.during_sleep: Callable[[], None] = lambda: None
        self.before_start: Callable[[], None] = lambda: None
        monkeypatch.setattr(supervisor.signal, "signal", self.handlers.__setitem__)
        monkeypatch.setattr(supervisor.subprocess, "Popen", self.popen)
        monkeypatch.setattr(supervisor.time, "monotonic", lambda: self.now)
        monkeypatch.setattr(supervisor.time, "sleep", self.sleep)

    def popen(self, command: list[str], **_options: object) -> Child:
        self.before_start()
        self.started.append(command)
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
