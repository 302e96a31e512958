"""Saving: what is kept, what is never overwritten, and what a user reads."""

from __future__ import annotations

import errno
import json
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from onecrew.errors import Trouble
from onecrew.show.disk import Disk
from onecrew.show.dump import dump_show
from onecrew.show.load import load_show
from onecrew.show.new import new_show
from onecrew.show.save import (
    KEPT_VERSIONS,
    ShowFile,
    newest_good_version,
    save_show,
    versions_of,
)
from onecrew.show.show import Show
from tests.show.shows import PROFILES, file_data, show_data


def show(name: str = "Kitchen") -> Show:
    return Show.model_validate(show_data(name=name))


def names_in(versions: list[Path]) -> list[str]:
    return [json.loads(file.read_text(encoding="utf-8"))["name"] for file in versions]


def test_a_saved_show_loads_and_is_kept_as_a_version_too(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    save_show(show(), path)
    assert load_show(path, PROFILES) == show()
    assert path.read_text(encoding="utf-8") == dump_show(show())
    assert names_in(versions_of(path)) == ["Kitchen"]
    assert versions_of(path)[0].parent == tmp_path / ".kitchen.json.versions"
    assert sorted(file.name for file in tmp_path.iterdir()) == [".kitchen.json.versions", "kitchen.json"]


def test_the_last_20_versions_are_kept(tmp_path: Path) -> None:
    file = ShowFile(tmp_path / "kitchen.json")
    for number in range(KEPT_VERSIONS + 5):
        assert file.save(show(f"Take {number}")) == ""
    assert KEPT_VERSIONS == 20
    assert names_in(versions_of(file.path)) == [f"Take {number}" for number in range(5, 25)]


def test_saving_the_same_again_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    save_show(show(), path)
    before = path.stat().st_ino, path.stat().st_mtime_ns
    save_show(show(), path)
    assert (path.stat().st_ino, path.stat().st_mtime_ns) == before
    assert len(versions_of(path)) == 1


def test_what_stood_in_the_file_before_the_first_save_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    by_hand = json.dumps(file_data(name="By hand"))
    path.write_text(by_hand)
    file = ShowFile(path)
    file.load(PROFILES)
    assert file.save(show()) == ""
    assert names_in(versions_of(path)) == ["By hand", "Kitchen"]
    assert versions_of(path)[0].read_text() == by_hand


@pytest.mark.parametrize(
    "spoilt",
    [
        "",
        "{",
        '{"format": "onecrew-show", "vers',
        "[]",
        '{"a": 1}',
        '{"format": "onecrew-show", "version": 2}',
    ],
)
def test_a_file_that_no_longer_reads_is_never_overwritten(tmp_path: Path, spoilt: str) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show())
    path.write_text(spoilt)
    with pytest.raises(Trouble, match="no longer reads as a show and is not overwritten; fix it or move"):
        file.save(show("Later"))
    assert path.read_text() == spoilt
    found = newest_good_version(path, PROFILES)
    assert found is not None and found[1].name == "Kitchen"


def test_a_file_that_was_never_a_show_is_not_overwritten_either(tmp_path: Path) -> None:
    path = tmp_path / "diary.txt"
    path.write_text("Dear diary")
    with pytest.raises(Trouble, match="was not overwritten"):
        save_show(show(), path)
    assert path.read_text() == "Dear diary"


def test_saving_goes_on_once_the_spoilt_file_is_moved_away(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show())
    path.write_text("{")
    path.rename(tmp_path / "spoilt.json")
    assert file.save(show("Later")) == "kitchen.json had gone from its folder and was written again."
    assert load_show(path, PROFILES).name == "Later"


def test_a_foreign_change_is_told_and_not_overwritten_until_that_is_decided(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show("Ours"))
    assert file.outside() is None
    path.write_text(dump_show(show("Theirs")))
    with pytest.raises(Trouble, match="changed by another program and is not overwritten"):
        file.save(show("Ours again"))
    assert load_show(path, PROFILES).name == "Theirs"
    outside = file.outside()
    assert outside is not None and outside.show == show("Theirs")
    file.accept(outside)
    assert file.outside() is None
    assert file.save(show("Ours again")) == ""
    assert load_show(path, PROFILES).name == "Ours again"
    assert names_in(versions_of(path)) == ["Ours", "Theirs", "Ours again"]
    assert file.save(show("And again")) == ""


def test_one_that_changes_once_more_after_it_was_looked_at_is_not_overwritten_either(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show("Ours"))
    path.write_text(dump_show(show("Theirs")))
    outside = file.outside()
    assert outside is not None
    path.write_text(dump_show(show("Theirs, later")))
    file.accept(outside)
    with pytest.raises(Trouble, match="is not overwritten"):
        file.save(show("Ours again"))
    later = file.outside()
    assert later is not None and later.show == show("Theirs, later")


def test_a_spoilt_file_is_told_when_it_is_looked_at_and_is_well_again_when_it_is_mended(
    tmp_path: Path,
) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show("Ours"))
    whole = path.read_bytes()
    path.write_text("{ cut")
    outside = file.outside()
    assert outside is not None and outside.show is None
    assert "no longer reads as a show" in outside.sentence
    path.write_bytes(whole)
    assert file.outside() is None


def test_a_show_is_kept_as_a_version_once(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    file.save(show("Ours"))
    assert not file.keep(show("Ours"))
    assert file.keep(show("Never saved"))
    assert not file.keep(show("Never saved"))
    assert names_in(versions_of(path)) == ["Ours", "Never saved"]


def test_the_newest_version_that_still_loads_is_found(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    file = ShowFile(path)
    for name in ("One", "Two", "Three"):
        file.save(show(name))
    versions_of(path)[2].write_text("{")
    versions_of(path)[1].write_text(json.dumps(file_data(name="", rig={})))
    found = newest_good_version(path, PROFILES)
    assert found is not None
    assert found[0] == versions_of(path)[0]
    assert found[1].name == "One"


def test_without_versions_there_is_none_to_offer(tmp_path: Path) -> None:
    assert newest_good_version(tmp_path / "kitchen.json", PROFILES) is None


def test_strangers_in_the_folder_of_versions_are_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    folder = tmp_path / ".kitchen.json.versions"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")
    (folder / "v000041.json").write_text("old")
    for number in range(KEPT_VERSIONS + 2):
        save_show(show(f"Take {number}"), path)
    assert (folder / "notes.txt").read_text() == "mine"
    assert versions_of(path)[-1].name == "v000063.json"
    assert len(versions_of(path)) == KEPT_VERSIONS


@pytest.mark.skipif(sys.platform == "win32", reason="permissions are kept another way there")
def test_permissions_and_a_link_to_the_show_outlive_a_save(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    save_show(show(), path)
    path.chmod(0o640)
    link = tmp_path / "link.json"
    link.symlink_to(path)
    save_show(show("Later"), link)
    assert link.is_symlink()
    assert load_show(path, PROFILES).name == "Later"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


# ── Disks that say no ───────────────────────────────────────────────────────────────────────────────


class FailingDisk(Disk):
    """Says no to writing, with the error it is given."""

    def __init__(self, error: OSError) -> None:
        self.error = error

    def write(self, path: Path, content: bytes, like: Path | None = None) -> None:
        path.write_bytes(content[: len(content) // 2])
        raise self.error


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (
            OSError(28, "No space left on device"),
            "The disk is full and kitchen.json was not saved; free some space",
        ),
        (PermissionError(13, "Permission denied"), "may not be written; allow it there"),
        (OSError(30, "Read-only file system"), "may not be written; allow it there"),
        (FileNotFoundError(2, "No such file or directory"), "is not there; put it back"),
        (OSError(5, "Input/output error"), "was not saved (Input/output error); look at the disk"),
    ],
)
def test_a_disk_that_says_no_is_a_sentence_and_leaves_the_old_show(
    tmp_path: Path, error: OSError, sentence: str
) -> None:
    path = tmp_path / "kitchen.json"
    save_show(show("Before"), path)
    with pytest.raises(Trouble) as caught:
        ShowFile(path, FailingDisk(error)).save(show("After"))
    assert sentence in str(caught.value)
    assert "\n" not in str(caught.value)
    assert load_show(path, PROFILES).name == "Before"
    assert not list(tmp_path.glob("*.saving")) and not list(tmp_path.glob(".*.saving"))


def test_a_disk_that_is_full_in_the_middle_of_a_file_keeps_no_piece_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    path = tmp_path / "kitchen.json"
    path.write_bytes(dump_show(show("Before")).encode())
    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(Trouble, match="disk is full"):
        save_show(show("After"), path)
    assert [file for file in tmp_path.rglob("*") if file.is_file()] == [path]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="is not there; put it back"):
        save_show(show(), tmp_path / "gone" / "kitchen.json")


def test_a_folder_in_the_show_s_place(tmp_path: Path) -> None:
    (tmp_path / "kitchen.json").mkdir()
    with pytest.raises(Trouble, match=r"a folder stands in its place; move it away"):
        save_show(show(), tmp_path / "kitchen.json")


@contextmanager
def common_user(folder: Path) -> Iterator[None]:
    """Whoever runs the tests, the system holds this process to permissions meanwhile."""
    if os.geteuid() != 0:
        yield
        return
    nobody = 65534
    for part in (folder, *folder.iterdir()):
        os.chown(part, nobody, -1)
    os.seteuid(nobody)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(sys.platform == "win32", reason="folders are made read-only another way there")
def test_a_read_only_folder() -> None:
    with TemporaryDirectory() as name:
        folder = Path(name).resolve()
        save_show(show("Before"), folder / "kitchen.json")
        with common_user(folder):
            folder.chmod(0o500)
            try:
                with pytest.raises(Trouble, match="may not be written; allow it there"):
                    save_show(show("After"), folder / "kitchen.json")
            finally:
                folder.chmod(0o700)
        assert load_show(folder / "kitchen.json", PROFILES).name == "Before"


class NoVersions(Disk):
    def make_folder(self, folder: Path) -> None:
        raise OSError(28, "No space left on device")


def test_a_show_saved_without_its_version_is_saved_and_told(tmp_path: Path) -> None:
    file = ShowFile(tmp_path / "kitchen.json", NoVersions())
    assert file.save(show()) == ("The show was saved, but no version beside it (No space left on device).")
    assert load_show(file.path, PROFILES) == show()


def test_a_new_show_can_be_saved_and_loaded(tmp_path: Path) -> None:
    save_show(new_show("  Kitchen, night "), tmp_path / "kitchen.json")
    assert load_show(tmp_path / "kitchen.json", PROFILES) == Show(name="Kitchen, night")
