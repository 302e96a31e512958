"""One engine at a time has a show: by a lock on its file, which goes on with the name and is never left."""

from __future__ import annotations

import errno
import fcntl
import os
from pathlib import Path

import pytest

from onecrew.errors import Trouble
from onecrew.show.hold import Hold
from onecrew.show.save import ShowFile
from onecrew.show.show import Show

ONE, OTHER = Show(name="One"), Show(name="Other")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "show.json"
    ShowFile(path).save(ONE)
    return path


def test_a_second_hold_is_refused_in_one_sentence_until_the_first_is_gone(path: Path) -> None:
    first = Hold(path)
    with pytest.raises(Trouble, match=rf"is held by an engine .* \(process {os.getpid()}\): end that one"):
        Hold(path)
    first.release()
    Hold(path).release()


def test_another_name_of_the_same_file_is_held_as_well(path: Path, tmp_path: Path) -> None:
    first, link = Hold(path), tmp_path / "link.json"
    link.hardlink_to(path)
    with pytest.raises(Trouble, match="is held"):
        Hold(link)
    first.release()


def test_a_file_that_may_only_be_read_is_held_and_keeps_no_disk_from_being_made_read_only(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    really = os.open

    def open_to_read(name: Path, flags: int) -> int:
        assert not flags & (os.O_RDWR | os.O_WRONLY)
        return really(name, flags)

    monkeypatch.setattr(os, "open", open_to_read)
    first = Hold(path)
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    first.release()


def test_where_a_lock_wants_a_file_to_write_to_it_has_one(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As over NFS, flock(2)."""
    really = fcntl.flock

    def as_over_a_network(descriptor: int, how: int) -> None:
        if fcntl.fcntl(descriptor, fcntl.F_GETFL) & os.O_ACCMODE != os.O_RDWR:
            raise OSError(errno.EBADF, os.strerror(errno.EBADF))
        really(descriptor, how)

    monkeypatch.setattr(fcntl, "flock", as_over_a_network)
    first = Hold(path)
    assert not first.remark
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    first.release()


def test_the_hold_goes_on_with_the_name_when_the_show_is_saved(path: Path) -> None:
    hold = Hold(path)
    file = ShowFile(path, hold=hold)
    file.load({})
    before = path.stat().st_ino
    file.save(OTHER)
    assert path.stat().st_ino != before
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    hold.release()
    Hold(path).release()


def test_there_is_no_moment_of_a_save_at_which_another_could_have_it(path: Path) -> None:
    refused = []

    def before_and_after(_: str | None = None, __: str = "") -> None:
        with pytest.raises(Trouble, match="is held"):
            Hold(path)
        refused.append(True)

    hold = Hold(path)
    file = ShowFile(path, before_change=before_and_after, hold=hold)
    file.load({})
    with hold.passed_on(_copy(path)):
        before_and_after()
        _copy(path).replace(path)
        before_and_after()
    before_and_after()
    file.save(OTHER)
    assert len(refused) == 4
    hold.release()


def _copy(path: Path) -> Path:
    fresh = path.with_name("fresh")
    if not fresh.exists():
        fresh.write_bytes(path.read_bytes())
    return fresh


def test_a_save_that_fails_leaves_the_old_file_held(path: Path) -> None:
    hold = Hold(path)
    with pytest.raises(OSError, match="full"), hold.passed_on(_copy(path)):
        raise OSError(errno.ENOSPC, "full")
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    Hold(_copy(path)).release()
    hold.release()


def test_what_another_program_puts_there_is_held_from_the_next_look_on(path: Path) -> None:
    hold = Hold(path)
    file = ShowFile(path, hold=hold)
    file.load({})
    elsewhere = path.with_name("elsewhere.json")
    ShowFile(elsewhere).save(OTHER)
    elsewhere.replace(path)
    assert file.outside() is not None
    file.follow_lock()
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    hold.release()


def test_a_file_that_is_put_back_is_held_and_one_that_is_not_there_yet_is_not_missed(path: Path) -> None:
    content = path.read_bytes()
    path.unlink()
    hold = Hold(path)
    path.write_bytes(content)
    hold.follow()
    with pytest.raises(Trouble, match="is held"):
        Hold(path)
    hold.release()


@pytest.mark.parametrize("code", [errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS])
def test_a_folder_that_knows_no_locks_is_said_and_not_in_the_way(
    path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    def cannot(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(fcntl, "flock", cannot)
    hold = Hold(path)
    assert "knows no locks" in hold.remark and "no other engine opens this show" in hold.remark
    file = ShowFile(path, hold=hold)
    file.load({})
    file.save(OTHER)
    assert ShowFile(path).load({}) == OTHER
