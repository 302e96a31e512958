"""What is remembered: shows that are there, the latest first; colours; whatever is in the files."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.cli import remembered


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(remembered, "_folder", lambda: tmp_path / "state")
    return tmp_path / "state" / "recent.json"


def test_the_latest_comes_first_and_each_once(tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.json" for n in range(12)]
    for path in (*paths, paths[3]):
        path.write_text("{}")
        remembered.remember_show(path)
    assert remembered.recent_shows()[:3] == [paths[3], paths[11], paths[10]]
    assert len(remembered.recent_shows()) == remembered.KEPT
    paths[3].unlink()
    assert remembered.recent_shows()[0] == paths[11]


@pytest.mark.parametrize("written", ["", "{", "3", '{"a": 1}', '[1, null, "\\u0000"]'])
def test_a_list_that_cannot_be_read_is_no_list(state: Path, written: str) -> None:
    state.parent.mkdir()
    state.write_text(written)
    assert remembered.recent_shows() == []


def test_a_folder_that_cannot_be_written_stops_nothing(state: Path, tmp_path: Path) -> None:
    state.parent.write_text("a file where the folder would be")
    remembered.remember_show(tmp_path / "a.json")
    assert remembered.recent_shows() == []


def test_colours_are_those_chosen_last_unless_others_are_asked_for() -> None:
    assert remembered.colours().name == "dark"
    remembered.colours().keep("bright")
    assert remembered.colours().name == "bright"
    assert remembered.colours("dark").name == "dark"
    assert remembered.colours().name == "bright", "asking for one run changes nothing"


@pytest.mark.parametrize("written", ["", "[]", "{}", '"pink"', "3"])
def test_colours_that_cannot_be_read_are_the_dark_ones(state: Path, written: str) -> None:
    state.parent.mkdir()
    (state.parent / "colours.json").write_text(written)
    assert remembered.colours().name == "dark"
