"""A forked engine says its process id when it was adopted, and does not live where nobody hears it."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from onecrew.engine import preloaded

ADOPTER = 1


@pytest.fixture
def forked(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """This process as one that was just forked: its parents to come, the last of which adopts it."""
    parents = [os.getpid(), os.getpid(), ADOPTER]
    with monkeypatch.context() as system:
        for name in ("step_forward", "os.setsid", "os.dup2", "time.sleep"):
            system.setattr(f"onecrew.engine.preloaded.{name}", lambda *_: None)
        system.setattr(os, "fork", lambda: 0)
        system.setattr(os, "getppid", lambda: parents.pop(0))
        yield parents


def test_it_says_its_process_id_when_it_was_adopted(forked: list[int]) -> None:
    heard, told = os.pipe()
    assert preloaded._is_engine(told)
    assert os.read(heard, 32) == b"%d\n" % os.getpid() and os.read(heard, 32) == b""
    assert forked == []
    os.close(heard)


def test_where_nobody_hears_it_it_is_none(forked: list[int]) -> None:
    heard, told = os.pipe()
    os.close(heard)
    assert not preloaded._is_engine(told)
    assert forked == []
