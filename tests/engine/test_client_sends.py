"""A client's command leaves at once; its answer is what is awaited."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, cast

import pytest

from onecrew.commands.running import Blackout
from onecrew.engine.client import Client
from onecrew.errors import Refused, Trouble
from onecrew.network.json_lines import unpack


class Writer:
    """Keeps what it is given."""

    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []

    def write(self, line: bytes) -> None:
        self.lines.append(unpack(line))


def client(tmp_path: Path) -> tuple[Client, Writer]:
    made, writer = Client(tmp_path / "show.json", 15.0, starts=False), Writer()
    made._writer = cast(asyncio.StreamWriter, writer)
    return made, writer


@pytest.mark.parametrize("changed", [True, False])
def test_a_command_has_left_before_its_answer_is_awaited(changed: bool, tmp_path: Path) -> None:
    async def run() -> bool:
        made, writer = client(tmp_path)
        answer = made.send_now(Blackout())
        assert writer.lines == [{"id": 1, "command": {"kind": "blackout"}}]
        made._receive({"id": 1, "changed": changed})
        return await answer

    assert asyncio.run(run()) is changed


def test_what_the_engine_refuses_and_what_is_never_sent_is_raised_where_it_is_awaited(tmp_path: Path) -> None:
    async def run() -> None:
        made, _ = client(tmp_path)
        answer = made.send_now(Blackout())
        made._receive({"id": 1, "refused": "the light is locked"})
        with pytest.raises(Refused, match="the light is locked"):
            await answer
        made._writer = None
        answer = made.send_now(Blackout())
        with pytest.raises(Trouble, match="nothing was done: wait"):
            await answer
        made._receive({"goodbye": "the engine was stopped, the lights are out", "stopped": True})
        with pytest.raises(Trouble, match="nothing was done: quit, and open the show again"):
            await made.send_now(Blackout())

    asyncio.run(run())
