"""Folders of its own for every test, and one way to run a command in this process."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from onecrew.cli import main
from onecrew.engine import successors
from tests.process.sandbox import Sandbox


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of the user's is read or written, the current folder is empty, and no command makes this
    process the parent of what later tests leave behind."""
    monkeypatch.setattr(successors, "adopts_orphans", lambda: False)
    for name in ("HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for kind in ("RUNTIME_DIR", "STATE_HOME", "CONFIG_HOME", "DATA_HOME", "CACHE_HOME"):
        folder = tmp_path / "home" / kind.lower()
        folder.mkdir(mode=0o700, parents=True)
        monkeypatch.setenv(f"XDG_{kind}", str(folder))
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)


@dataclass(frozen=True)
class Ended:
    """How a command ended and what it said."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def onecrew(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    """Runs ``onecrew WORDS`` in this process."""

    def run(*words: str) -> Ended:
        capsys.readouterr()
        status = main(list(words))
        said = capsys.readouterr()
        return Ended(status, said.out, said.err)

    return run


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    """Folders and processes of their own, as the process tests have them."""
    folder = tmp_path / "sandbox"
    folder.mkdir()
    sandbox = Sandbox(folder)
    yield sandbox
    sandbox.close()
