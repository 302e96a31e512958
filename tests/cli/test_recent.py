"""The shows opened last: the latest first, only those that are there, whatever is in the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.cli import recent


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(recent, "_file", lambda: tmp_path / "state" / "recent.json")
    return tmp_path / "state" / "recent.json"


def test_the_latest_comes_first_and_each_once(tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.json" for n in range(12)]
    for path in (*paths, paths[3]):
        path.write_text("{}")
        recent.remember(path)
    assert recent.recent_shows()[:3] == [paths[3], paths[11], paths[10]]
    assert len(recent.recent_shows()) == recent.KEPT
    paths[3].unlink()
    assert recent.recent_shows()[0] == paths[11]


@pytest.mark.parametrize("written", ["", "{", "3", '{"a": 1}', '[1, null, "\\u0000"]'])
def test_a_list_that_cannot_be_read_is_no_list(state: Path, written: str) -> None:
    state.parent.mkdir()
    state.write_text(written)
    assert recent.recent_shows() == []


def test_a_folder_that_cannot_be_written_stops_nothing(state: Path, tmp_path: Path) -> None:
    state.parent.write_text("a file where the folder would be")
    recent.remember(tmp_path / "a.json")
    assert recent.recent_shows() == []
