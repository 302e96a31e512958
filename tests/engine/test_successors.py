"""An end that comes while the process is made that is to fork the engine, and what comes when it is gone."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import psutil
import pytest

from onecrew.engine import successors
from onecrew.engine.successors import Forked


class Loading:
    """A process that forks nothing: it ends, or was ended, before it could."""

    def __init__(self) -> None:
        self.stdin = io.BytesIO()
        self.killed = False

    def poll(self) -> int | None:
        return -9 if self.killed else None

    def kill(self) -> None:
        self.killed = True

    def wait(self) -> int:
        return -9


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[Loading]:
    """Every process that was made; none is adopted."""
    processes: list[Loading] = []

    def started(*_words: Any, **_options: Any) -> Loading:
        processes.append(Loading())
        return processes[-1]

    monkeypatch.setattr(successors, "bury_orphans", lambda: None)
    monkeypatch.setattr(successors, "started", started)
    return processes


def test_an_end_that_comes_while_it_is_made_reaches_it(
    made: list[Loading], monkeypatch: pytest.MonkeyPatch
) -> None:
    engines = Forked(["show.json"], 1)
    make: Callable[..., Any] = successors.started

    def made_meanwhile(*words: Any, **options: Any) -> Any:
        engines.give_up()
        return make(*words, **options)

    monkeypatch.setattr(successors, "started", made_meanwhile)
    engine = engines.start([])
    assert made == [engine] and made[0].killed


def test_what_forked_no_engine_ends_in_its_place_and_the_next_start_makes_another(
    made: list[Loading],
) -> None:
    opened = psutil.Process().num_fds()
    engines = Forked(["show.json"], 1)
    first = engines.start([])
    assert engines.wait() == -9
    second = engines.start(["--resumed"])
    assert made == [first, second] and made[0].killed and not made[1].killed
    assert made[1].stdin.getvalue() == b"--resumed\n"
    engines.close()
    assert made[1].killed and psutil.Process().num_fds() == opened
