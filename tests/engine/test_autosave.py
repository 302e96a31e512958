"""Autosave: the newest show reaches the disk, whatever stood in the way first."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable

import pytest

from onecrew.engine import autosave as module
from onecrew.engine.autosave import Autosave
from onecrew.errors import Trouble
from onecrew.show.show import Show


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "RETRY_S", 0.001)


def run(write: Callable[[Show], None], body: Callable[[Autosave, list[bool]], Awaitable[None]]) -> None:
    async def scene() -> None:
        heard: list[bool] = []
        autosave = Autosave(write, lambda: heard.append(autosave.state.ok))
        await asyncio.wait_for(body(autosave, heard), 10)
        await autosave.finish(5.0)

    asyncio.run(scene())


async def until_saved(autosave: Autosave) -> None:
    while autosave.pending is not None:
        await asyncio.sleep(0.001)


def test_a_show_is_written_and_the_newest_wins() -> None:
    written: list[str] = []

    async def body(autosave: Autosave, heard: list[bool]) -> None:
        for name in ("One", "Two", "Three"):
            autosave.save(Show(name=name))
        await until_saved(autosave)

    run(lambda show: written.append(show.name), body)
    assert written[-1] == "Three"
    assert len(written) <= 2


def test_a_show_that_comes_while_another_is_written_is_written_after_it() -> None:
    written: list[str] = []
    begun, go_on = threading.Event(), threading.Event()

    def write(show: Show) -> None:
        begun.set()
        assert go_on.wait(10)
        written.append(show.name)

    async def body(autosave: Autosave, heard: list[bool]) -> None:
        autosave.save(Show(name="One"))
        while not begun.is_set():
            await asyncio.sleep(0.001)
        autosave.save(Show(name="Two"))
        go_on.set()
        await until_saved(autosave)

    run(write, body)
    assert written == ["One", "Two"]


def test_every_save_is_heard_of_as_it_may_have_something_to_say() -> None:
    async def body(autosave: Autosave, heard: list[bool]) -> None:
        for name in ("One", "Two"):
            autosave.save(Show(name=name))
            await until_saved(autosave)
            await asyncio.sleep(0)
        assert heard == [True, True]

    run(lambda show: None, body)


@pytest.mark.parametrize("error", [Trouble("the disk is full"), RuntimeError("a bug")])
def test_what_stands_in_the_way_is_said_and_tried_again(error: Exception) -> None:
    failures = [error, error]
    states: list[str] = []

    def write(_show: Show) -> None:
        if failures:
            raise failures.pop()

    async def body(autosave: Autosave, heard: list[bool]) -> None:
        autosave.save(Show(name="One"))
        while not states:
            await asyncio.sleep(0)
            if not autosave.state.ok:
                states.append(autosave.state.error)
        await until_saved(autosave)
        assert autosave.state.ok
        assert heard[0] is False
        assert heard[-1] is True

    run(write, body)
    assert states[0]
    assert not failures


def test_the_end_waits_for_the_last_save() -> None:
    written: list[str] = []

    async def scene() -> None:
        autosave = Autosave(lambda show: written.append(show.name), lambda: None)
        autosave.save(Show(name="Last"))
        await autosave.finish(5.0)

    asyncio.run(scene())
    assert written == ["Last"]


def test_a_save_that_does_not_end_is_said_until_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SLOW_S", 0.001)
    answers = threading.Event()

    async def body(autosave: Autosave, heard: list[bool]) -> None:
        autosave.save(Show(name="One"))
        while not heard:
            await asyncio.sleep(0.001)
        assert not autosave.state.ok and "the disk does not answer" in autosave.state.error
        answers.set()
        await until_saved(autosave)
        assert autosave.state.ok and heard == [False, True]

    run(lambda _: None if answers.wait(10) else pytest.fail("never"), body)
