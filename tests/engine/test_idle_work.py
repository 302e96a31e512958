"""Work between frames: a part waits for the frame if it may take longer than there is time."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest

from onecrew.engine.idle_work import AFTER_S, IdleWork
from tests.fakes.simulated import SimulatedLoop


def begun_at(took_s: list[float], frame_s: float, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """When parts that take so long were begun; a frame is due each ``frame_s``, work begins at 0."""
    spent = 0.0
    monkeypatch.setattr("onecrew.engine.idle_work.time.perf_counter", lambda: spent)
    loop = SimulatedLoop(0.0)
    begun: list[float] = []
    done = asyncio.Event()

    def work() -> Iterator[None]:
        nonlocal spent
        for took in took_s:
            begun.append(loop.time())
            spent += took
            yield

    async def run() -> None:
        between = IdleWork(loop.time, lambda: (loop.time() // frame_s + 1.0) * frame_s)
        between.begin(work(), done.set)
        assert between.busy
        await asyncio.wait_for(done.wait(), 10.0)
        assert not between.busy and between.whole_s == pytest.approx(sum(took_s))

    try:
        loop.run_until_complete(run())
    finally:
        loop.close()
    return begun


def test_short_parts_follow_one_another(monkeypatch: pytest.MonkeyPatch) -> None:
    assert begun_at([0.001] * 3, 0.010, monkeypatch) == pytest.approx([0.0] * 3, abs=AFTER_S / 2)


def test_a_part_waits_for_the_frame_if_one_was_longer_than_the_time_that_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first, second = begun_at([0.015, 0.001], 0.010, monkeypatch)
    assert first == pytest.approx(0.0, abs=AFTER_S / 2) and second >= 0.010


def test_a_long_part_is_remembered_among_short_ones_for_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = begun_at([0.015, *[0.001] * 40], 0.010, monkeypatch)
    assert begun[:4] == pytest.approx([0.0, 0.010, 0.020, 0.030], abs=2 * AFTER_S)
    assert begun[-2:] == pytest.approx([begun[-1]] * 2, abs=AFTER_S / 2)


def test_work_that_fails_ends_and_the_next_is_done(caplog: pytest.LogCaptureFixture) -> None:
    loop = SimulatedLoop(0.0)
    done = asyncio.Event()

    def fails() -> Iterator[None]:
        yield
        raise RuntimeError("a bug")

    async def run() -> None:
        between = IdleWork(loop.time, lambda: 1.0)
        for work in (fails(), iter([None])):
            done.clear()
            between.begin(work, done.set)
            await asyncio.wait_for(done.wait(), 10.0)

    try:
        loop.run_until_complete(run())
    finally:
        loop.close()
    assert "work between frames failed" in caplog.text
