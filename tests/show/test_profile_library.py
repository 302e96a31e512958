"""Profiles come from folders: shipped, the user's, beside a show; a broken file hides no good one."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from onecrew.errors import DocumentFaults, Trouble
from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles, user_folder

GOOD = """
name = "{}"
[emitters.bulb]
xy = [0.46, 0.41]
[[modes]]
name = "8-bit"
channels = [{{dimmer = true}}]
"""
SHIPPED = {path.stem for path in shipped("profiles").glob("*.toml")}


def put(folder: Path, name: str, text: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A configuration folder of the user's own, empty."""
    monkeypatch.setattr(platformdirs, "user_config_path", lambda name: tmp_path / "config" / name)
    (tmp_path / "config" / "onecrew").mkdir(parents=True)
    return tmp_path


def test_the_shipped_profiles_are_all_good() -> None:
    library = load_profiles([shipped("profiles")])
    assert set(library) == SHIPPED
    assert library.broken == {}
    assert library.files["spot-six"] == shipped("profiles") / "spot-six.toml"


def test_the_user_s_own_and_those_beside_a_show_come_on_top(home: Path) -> None:
    put(user_folder(), "mine", GOOD.format("Mine"))
    put(user_folder(), "spot-six", GOOD.format("My spot"))
    put(home / "profiles", "theirs", GOOD.format("Theirs"))
    put(home / "profiles", "mine", GOOD.format("Mine for this show"))
    library = load_profiles(beside=home / "show.json")
    assert set(library) == SHIPPED | {"mine", "theirs"}
    assert library["spot-six"].name == "My spot"
    assert library["mine"].name == "Mine for this show"


def test_no_folder_of_the_user_s_is_no_fault(home: Path) -> None:
    library = load_profiles(beside=home / "show.json")
    assert set(library) == SHIPPED
    assert library.broken == {}


def test_a_broken_profile_is_told_and_the_rest_stays(tmp_path: Path) -> None:
    put(tmp_path, "good", GOOD.format("Good"))
    put(tmp_path, "bad", GOOD.format("Bad").replace("0.46", "4.6"))
    put(tmp_path, "worse", "name = \n")
    (tmp_path / "folder.toml").mkdir()
    library = load_profiles([tmp_path])
    assert set(library) == {"good"}
    assert {name: type(error) for name, error in library.broken.items()} == {
        "bad": DocumentFaults,
        "folder": Trouble,
        "worse": DocumentFaults,
    }
    assert library.faults[0].startswith(
        f"{tmp_path / 'bad.toml'}: emitters.bulb.xy[0]: 4.6 is not below 1; give"
    )
    assert len(library.faults) == 3


def test_a_broken_profile_of_the_user_s_leaves_the_shipped_one(tmp_path: Path) -> None:
    put(tmp_path, "spot-six", "broken")
    library = load_profiles([shipped("profiles"), tmp_path])
    assert set(library) == SHIPPED
    assert "spot-six" in library.broken


def test_a_good_profile_in_a_later_folder_mends_a_broken_one(tmp_path: Path) -> None:
    put(tmp_path / "a", "lamp", "broken")
    put(tmp_path / "b", "lamp", GOOD.format("Lamp"))
    library = load_profiles([tmp_path / "a", tmp_path / "b"])
    assert library["lamp"].name == "Lamp"
    assert library.broken == {}


def test_other_files_in_the_folder_are_left_alone(tmp_path: Path) -> None:
    put(tmp_path, "good", GOOD.format("Good"))
    (tmp_path / "README.md").write_text("words")
    (tmp_path / "old.toml.bak").write_text("broken")
    library = load_profiles([tmp_path])
    assert set(library) == {"good"}
    assert library.broken == {}


def test_a_folder_that_cannot_be_listed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    library = load_profiles([tmp_path])
    assert library.faults == (f"The folder {tmp_path} cannot be listed (Permission denied).",)
