"""The page of a match and the engine behind it: one client, whoever is the first to send."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from onecrew.cli import match_live
from onecrew.cli.exits import DONE


class Engine:
    """Stands for the client of an engine that takes its time to answer."""

    def __init__(self) -> None:
        self.attached, self.closed, self.sent = 0, 0, list[str]()

    async def attach(self, *_: Any, **__: Any) -> Any:
        self.attached += 1
        await asyncio.sleep(0.01)
        return SimpleNamespace(send=self.send, close=self.close)

    async def send(self, command: Any) -> None:
        self.sent += command.fixtures

    async def close(self) -> None:
        self.closed += 1


class TwoWindows:
    """Stands for a page that two windows show, which both send as soon as it is there."""

    def __init__(self, *given: Any) -> None:
        self.send = given[5]

    async def open(self) -> str:
        await asyncio.gather(self.send("key", 0.5, None), self.send("fill", 0.5, 250.0))
        raise KeyboardInterrupt

    async def close(self) -> None: ...


def test_two_windows_that_send_at_once_share_one_client_and_it_is_closed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    engine, show = Engine(), tmp_path / "show.json"
    found: Iterator[list[Path]] = iter([[]])  # the engine is started after the page was
    monkeypatch.setattr(match_live, "running_shows", lambda: next(found, [show]))
    monkeypatch.setattr(match_live, "Client", engine)
    monkeypatch.setattr(match_live, "MatchPage", TwoWindows)
    nothing: Any = SimpleNamespace(name="reference.png")
    assert match_live.serve(show, nothing, nothing, (), nothing, nothing) == DONE
    assert (engine.attached, engine.closed, sorted(engine.sent)) == (1, 1, ["fill", "key"])
