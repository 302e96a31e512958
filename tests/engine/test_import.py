"""A GDTF file imported for a client: what the screens are told of it."""

from __future__ import annotations

import asyncio
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from onecrew.engine import kinds
from tests.fixtures.gdtf.files import channel, fixture_type, mode, packed


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Imports what lies beside the show."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))

    async def nothing(*_: object) -> None: ...

    monkeypatch.setattr(kinds, "profiles_again", nothing)
    desk: Any = SimpleNamespace()
    return lambda path: asyncio.run(kinds.import_gdtf(desk, tmp_path / "show.json", {"path": path}))


def test_what_became_of_each_file_without_commands_of_another_surface(tmp_path: Path, told: Any) -> None:
    (tmp_path / "files").mkdir()
    packed(tmp_path / "files/Nobody@One.gdtf", fixture_type(mode(channel("1", "Dimmer"))))
    packed(tmp_path / "files/Nobody@Bad.gdtf", "<GDTF>")
    answer = told("files")
    assert not answer["done"]
    assert any("Nobody@Bad.gdtf is broken XML" in line for line in answer["lines"])
    assert any(line.startswith("Nobody@One.gdtf → ") for line in answer["lines"])
    assert not any("`onecrew" in line or line.startswith("onecrew:") for line in answer["lines"])


def test_a_long_answer_says_that_there_is_more(
    tmp_path: Path, told: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed(tmp_path / "One.gdtf", fixture_type(mode(channel("1", "Dimmer"), channel("2", "Pan"))))
    monkeypatch.setattr(kinds, "MOST_LINES", 2)
    lines = told("One.gdtf")["lines"]
    assert len(lines) == 3 and lines[-1].endswith("more; the profiles say it all")
